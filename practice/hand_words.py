"""What practice.handcare and practice.handanswer say, in words: to a child, to an adult who plays, to family and
teacher.

Careful by rule: the words ask, pause and point to a person, and name no condition. Sources stand apart from the advice,
so that a page can keep them behind a tap. A child's advice is at most two short sentences.
"""

from typing import Any

from django.utils.translation import gettext_lazy as _

# For teacher and family, who read about somebody else, and in the record.
HAND: dict[str, Any] = {
    "advice-face": _("An arm, a leg or one side of the face suddenly numb or weak: call the emergency number now."),
    "advice-sudden-numb": _(
        "Numbness or weakness that comes suddenly and on one side of the body: call the emergency number now."
    ),
    "advice-injury-now": _("A hand like this after a fall, a blow or a cut: go to an emergency department now."),
    "advice-injury": _("After a fall, a blow or a cut: get medical advice today."),
    "advice-hot": _("Hot, red or swollen, pus or fever: get medical advice today."),
    "advice-shape": _(
        "An odd shape, a snap or grinding, a hand that is blue, white or icy or cannot be moved: get medical advice"
        " today."
    ),
    "advice-still-emergency": _(
        "If an arm, a leg or one side of the face is numb or weak now, call the emergency number."
    ),
    "advice-still-hospital": _("If nobody has looked at the hand yet: go to an emergency department now."),
    "advice-still-same-day": _("If nobody has looked at the hand yet: get medical advice today."),
    "advice-stop-until-seen": _(
        "No playing until a doctor or hand therapist has had a look and the teacher has noted what they said."
    ),
    "advice-severe": _("This much discomfort means stop for today, and tell the teacher today."),
    "advice-severe-skin": _(
        "Stop for today and let the fingertip rest. If there is pus, or it has not settled by tomorrow, ask a doctor."
    ),
    "advice-severe-skin-later": _(
        "If the fingertip is still sore, ask a doctor. Barre chords rest until it is well again."
    ),
    "advice-see-sudden": _("What comes suddenly and on one side should be looked at on the same day."),
    "advice-see-numb": _("Numbness or tingling is a reason to have the hand looked at."),
    "advice-see-weak": _("Weakness or loss of control is a reason to have the hand looked at."),
    "advice-see-itself": _("A finger that does something by itself is a reason to have the hand looked at."),
    "advice-see-rest": _("What is felt at rest or at night is a reason to have the hand looked at."),
    "advice-see-next-day": _("What is still there the next day is a reason to have the hand looked at."),
    "advice-see-daily": _("What gets in the way of daily tasks is a reason to have the hand looked at."),
    "advice-see-repeated": _("Some discomfort or a lot on more than one day is a reason to have the hand looked at."),
    "advice-see-someone": _("Please see a doctor or a hand therapist, and tell the teacher."),
    "advice-see-musicians": _("Please see a clinician who knows musicians, and tell the teacher."),
    "advice-until-barre": _("Until then no barre chords, and nothing else that brings it on."),
    "advice-until-played": _("Until then leave out whatever brings it on."),
    "advice-emergency": _(
        "If an arm, a leg or one side of the face is suddenly numb or weak, call the emergency number now."
    ),
    "advice-pause-barre": _("Rest the barre chords until the teacher has had a look."),
    "advice-pause-played": _("Leave out what was being played when it came, until the teacher has had a look."),
    "advice-tell-teacher": _("Tell the teacher, who can read this note."),
    "advice-posture": _("Check posture, strap and stool together with the teacher."),
    "advice-string-height": _("Have the string height and the gauge checked: high strings tire a hand."),
    "advice-shorter-bouts": _("Play in shorter turns this week, and stop before the hand is tired."),
    "advice-skin-bouts": _("Fingertips get used to strings in short turns: stop before they are sore."),
    "advice-skin-again": _("A sore fingertip is normal in the first weeks. Look again in two days."),
    "advice-skin-strings": _(
        "Have the string height and the gauge checked: high or heavy strings ask more of the fingertips."
    ),
    "advice-skin-closes": _("Let a blister or broken skin close before it meets a string again."),
    "advice-breaks": _("Play for 25 minutes at the most before a rest of 5."),
    "advice-lighter-positions": _("Hold barre chords at frets 5 to 7 rather than 1 to 3, and no longer than needed."),
    "advice-numb-tip": _(
        "A fingertip that is numb and comes back within the hour is worth telling the teacher, nothing more."
    ),
    "advice-no-diagnosis": _("This page does not know what it is, and does not guess."),
    "advice-other-view": _(
        "Not everybody agrees on rest: time off is not always right, and worry can make pain last longer (Stanhope &"
        " Weinstein, Br J Pain 2021;15:82). So: pause, adjust, ask."
    ),
    "other-bands": _(
        "Where the middle band begins is not agreed: at 4 here, elsewhere at 5 (Serlin et al., Pain 1995;61:277)"
        " or 6 (Boonstra et al., Front Psychol 2016;7:1466)."
    ),
    "other-rise": _(
        "A smaller change may be noticed, too: 1 point or 15 % (Salaffi et al., Eur J Pain 2004). Here 2 points count."
    ),
    "rule-face": _("The rule: an arm, a leg or one side of the face suddenly numb or weak."),
    "rule-sudden-numb": _("The rule: numbness or weakness, sudden and on one side of the body."),
    "rule-injury-now": _(
        "The rule: a fall, blow or cut, with an odd shape, a snap or grinding, extreme pain, a hand that is blue, white"
        " or icy, or one that cannot be moved."
    ),
    "rule-injury": _("The rule: a fall, a blow or a cut."),
    "rule-hot": _("The rule: hot, red or swollen, pus or fever."),
    "rule-shape": _(
        "The rule: an odd shape, a snap or grinding, a hand that is blue, white or icy, or one that cannot be moved."
    ),
    "rule-severe": _("The rule: one note of 7 or more, or extreme pain."),
    "rule-severe-skin": _("The rule: fingertip skin at 7 or more."),
    "rule-sudden": _("The rule: sudden, and on one side of the body."),
    "rule-numb": _("The rule: numbness or tingling, other than at a fingertip and gone within the hour."),
    "rule-weak": _("The rule: weakness or loss of control."),
    "rule-itself": _("The rule: a finger moves by itself."),
    "rule-rest": _("The rule: felt at rest or at night."),
    "rule-next-day": _("The rule: still there the next day."),
    "rule-daily": _("The rule: in the way of daily tasks."),
    "rule-repeated": _("The rule: 4 or more on more than one day."),
    "rule-firm": _("The rule: one note of 4 or more."),
    "rule-four-days": _("The rule: 1 to 3 on four of the last seven days."),
    "rule-two-days": _("The rule: 1 to 3 twice in the last seven days."),
    "rule-rise": _("The rule: a rise of 2 points or more at one place."),
    "rule-numb-tip": _("The rule: numb only at the fingertip and gone within the hour."),
    "rule-skin": _("The rule: sore fingertip skin, with nothing else."),
    "rule-skin-twice": _("The rule: a sore or numb fingertip twice in seven days."),
}

_STROKE = _("Public advice of stroke associations on sudden numbness or weakness of face, arm or leg (FAST).")
_SIGNS = _(
    "A synthesis of the five-level performer scale (SHAPE/Actsafe, Musicians and MSI) and NHS hand-and-wrist guidance."
)
_SAME_DAY = _("NHS inform, wrist, hand and finger problems; NHS trusts’ pages on hot, red or swollen joints.")
_PAUSE = _(
    "A synthesis made for Ledgerline: 4 begins the middle band of 1 to 3, 4 to 6, 7 to 10, one convention of several"
    " (Canadian Physiotherapy Association page). It errs towards asking a person."
)
_EASE_OFF = _("A synthesis made for Ledgerline; breaks after Klickstein, The Musician's Way, 2009.")
_COMMON = _("Common practice among teachers, no source.")
_SEVERE = _(
    "7 and over counts as a lot in most published bandings (Serlin et al., Pain 1995;61:277, among others); the rule is"
    " made for Ledgerline."
)

HAND |= {
    "source-face": _STROKE,
    "source-sudden-numb": _STROKE,
    "source-injury-now": _("nidirect, hand pain: when to go to an emergency department."),
    "source-injury": _SAME_DAY,
    "source-hot": _SAME_DAY,
    "source-shape": _SAME_DAY,
    "source-severe": _SEVERE,
    "source-severe-skin": _SEVERE,
    **{f"source-{code}": _SIGNS for code in ("sudden", "numb", "weak", "rest", "next-day", "daily", "repeated")},
    "source-itself": _("A factsheet of the British Association for Performing Arts Medicine (BAPAM)."),
    "source-firm": _PAUSE,
    "source-four-days": _PAUSE,
    "source-two-days": _EASE_OFF,
    "source-rise": _(
        "A change of about 2 points matters (Farrar et al., Pain 2001;94:149); the rest is a synthesis made for"
        " Ledgerline."
    ),
    "source-numb-tip": _COMMON,
    "source-skin": _COMMON,
    "source-skin-twice": _COMMON,
}

# Behind Today's one tap: what the note shows, in a few words.
SIGNS: dict[str, Any] = {
    "sign-face": _("an arm, a leg or the face suddenly numb or weak"),
    "sign-sudden-numb": _("sudden, and on one side"),
    "sign-injury-now": _("a fall, blow or cut that cannot wait"),
    "sign-injury": _("a fall, blow or cut"),
    "sign-hot": _("hot, red or swollen"),
    "sign-shape": _("odd shape or colour, a snap, or not to be moved"),
    "sign-severe": _("7 or more, or extreme pain"),
    "sign-sudden": _("sudden, and on one side"),
    "sign-numb": _("numbness or tingling"),
    "sign-weak": _("weakness or loss of control"),
    "sign-itself": _("a finger moves by itself"),
    "sign-rest": _("felt at rest or at night"),
    "sign-next-day": _("still there the next day"),
    "sign-daily": _("in the way of daily tasks"),
    "sign-repeated": _("4 or more on more than one day"),
}

# To whoever plays (own-), to a child and other minors (young-), to a family (family-): the head, then what stands under
# it. %(who)s: "a grown-up at home" or "somebody at home"; %(helper)s: "a grown-up" or "somebody"; %(name)s: the
# student; %(teacher)s: the teacher. A family's texts do without the teacher's name.
_CALL = _("Call the emergency number now.")
_GET_CALL = _("Get %(helper)s to call the emergency number now. Nobody there? Call it yourself.")
_YOUNG_TODAY = _("Stop for today. Tell %(who)s now: a doctor should see you today.")
_OWN_TODAY = _("Stop for today. Get medical advice today.")
_FAMILY_TODAY = _("No more playing today. Get medical advice for %(name)s today.")
_SETTLED = _("If there is pus, or if it has not settled by tomorrow, ask a doctor.")
_WELL = _("Barre chords rest until it is well again.")
_FIRST_WEEKS = _("A sore fingertip is normal in the first weeks.")
_MUSICIANS = _("For a finger that moves by itself the best is a clinician who knows musicians.")
_STAYS_NUMB = _("If it stays numb, say so here.")
_CLOSES = _("Let the skin close before it meets a string again.")

ANSWER: dict[str, Any] = {
    "young-face": _GET_CALL,
    "young-sudden-numb": _GET_CALL,
    "young-injury-now": _("Tell %(who)s now: you need to go to a hospital."),
    "young-injury": _YOUNG_TODAY,
    "young-hot": _YOUNG_TODAY,
    "young-shape": _YOUNG_TODAY,
    "young-severe": _("Stop for today. Tell %(who)s today."),
    "young-severe-skin": _("Stop for today. Show %(who)s your fingertip."),
    "young-severe-skin-later": _("Let the fingertip rest. If it is still sore, tell %(who)s: a doctor should look."),
    "young-waits": _("No playing yet. A doctor should see you first."),
    "young-see-barre": _("Rest the barres today. Tell %(who)s: a doctor should look at your hand."),
    "young-see-played": _("Leave out what makes it worse. Tell %(who)s: a doctor should look at it."),
    "young-pause-barre": _("Rest the barres today. Your teacher should have a look."),
    "young-pause-played": _("Leave out what makes it worse. Your teacher should have a look."),
    "young-ease-off": _("Take it easy today. Play in short turns."),
    "young-skin": _("Take it easy for two days. Then look at your fingertip again."),
    "young-numb-tip": _("Take it easy today. Tell your teacher about the fingertip."),
    "own-face": _CALL,
    "own-sudden-numb": _CALL,
    "own-injury-now": _("Go to an emergency department now."),
    "own-injury": _OWN_TODAY,
    "own-hot": _OWN_TODAY,
    "own-shape": _OWN_TODAY,
    "own-severe": _("Stop for today. See a doctor or hand therapist before you play again."),
    "own-severe-skin": _("Stop for today. Let the fingertip rest."),
    "own-severe-skin-later": _("Let the fingertip rest. If it is still sore, ask a doctor."),
    "own-waits": _("No playing yet. See a doctor or hand therapist first."),
    "own-see-barre": _("Rest the barres today. See a doctor or hand therapist."),
    "own-see-played": _("Leave out what brings it on. See a doctor or hand therapist."),
    "own-pause-barre": _("Rest the barres today."),
    "own-pause-played": _("Leave out what brings it on."),
    "own-ease-off": _("Take it easy today."),
    "own-skin": _("Take it easy for two days. Then look at the fingertip again."),
    "own-numb-tip": _("Take it easy today. Tell your teacher about the fingertip."),
    "family-face": _CALL,
    "family-sudden-numb": _CALL,
    "family-injury-now": _("Take %(name)s to an emergency department now."),
    "family-injury": _FAMILY_TODAY,
    "family-hot": _FAMILY_TODAY,
    "family-shape": _FAMILY_TODAY,
    "family-severe": _("No more playing today. A doctor or hand therapist should see %(name)s first."),
    "family-severe-skin": _("No more playing today. Let %(name)s’s fingertip rest."),
    "family-severe-skin-later": _("Let %(name)s’s fingertip rest. If it is still sore, ask a doctor."),
    "family-waits": _("No playing yet. A doctor or hand therapist should see %(name)s first."),
    "family-see-barre": _(
        "Barre chords (one finger over several strings) rest. A doctor or hand therapist should see %(name)s."
    ),
    "family-see-played": _("Leave out what brings it on. A doctor or hand therapist should see %(name)s."),
    "family-pause-barre": _("Barre chords (one finger over several strings) rest until the teacher has looked."),
    "family-pause-played": _("What brings it on rests until the teacher has looked."),
    "family-ease-off": _("Take it easy today: short turns, with a rest between."),
    "family-skin": _("Take it easy for two days. Then look at the fingertip again."),
    "family-numb-tip": _("Take it easy today. The teacher should hear of the fingertip."),
    # under the head
    "young-line-emergency": _("Put the guitar down, and show them this."),
    "young-line-hospital": _("Keep your hand still. If nobody is at home, call somebody you know."),
    "young-line-same-day": _("Put the guitar down. Say what it is, and since when."),
    "young-line-stop": _("Say where it hurts, and since when. It was right to stop."),
    "young-line-skin": _("If it is still sore tomorrow, or something yellow comes out, a doctor should look at it."),
    "young-line-skin-later": _("The barres rest, too, until it is well again."),
    "young-line-waits-emergency": _(
        "Is an arm, a leg or your face numb or weak now? Get %(helper)s to call the emergency number."
    ),
    "young-line-waits-hospital": _("Has nobody looked at it yet? Tell %(who)s now: it needs a hospital."),
    "young-line-waits-same-day": _("Has nobody looked at it yet? Tell %(who)s today."),
    "young-line-waits-stop": _("Your teacher then writes down what the doctor said. You come back step by step."),
    "young-line-itself": _("Say that a finger moves by itself. Some doctors know musicians’ hands."),
    "young-line-see-someone": _("Play only what feels fine. It was right to say it."),
    "young-line-pause": _("Play only what feels fine. It was right to say it."),
    "young-line-ease-off": _("Stop before your hand is tired."),
    "young-line-skin-more": _("Stop before your fingertip is sore."),
    "young-line-skin-closes": _("Do not press with it until the skin is closed."),
    "young-line-numb-tip": _STAYS_NUMB,
    "young-line-skin-new": _FIRST_WEEKS,
    "own-line-emergency": _("Put the guitar down. Tell your teacher later."),
    "own-line-hospital": _("Keep the hand still, and put the guitar down."),
    "own-line-same-day": _("Put the guitar down until somebody has had a look."),
    "own-line-stop": _("It was right to stop. Tell your teacher what was said; then you come back step by step."),
    "own-line-skin": _SETTLED,
    "own-line-skin-later": _WELL,
    "own-line-waits-emergency": _("If an arm, a leg or your face is numb or weak now, call the emergency number."),
    "own-line-waits-hospital": _("If nobody has looked at it yet, go to an emergency department now."),
    "own-line-waits-same-day": _("If nobody has looked at it yet, get medical advice today."),
    "own-line-waits-stop": _("Tell your teacher what was said; then you come back step by step."),
    "own-line-itself": _MUSICIANS,
    "own-line-see-someone": _("Until then play only what feels fine."),
    "own-line-pause": _("Until your teacher has had a look, play only what feels fine."),
    "own-line-ease-off": _("Play in short turns with a rest between, and stop before the hand is tired."),
    "own-line-skin-more": _("Play in short turns with a rest between, and stop before the fingertip is sore."),
    "own-line-skin-closes": _CLOSES,
    "own-line-numb-tip": _STAYS_NUMB,
    "own-line-skin-new": _FIRST_WEEKS,
    "family-line-emergency": _("The guitar waits. Tell the teacher later."),
    "family-line-hospital": _("Keep the hand still. The guitar waits."),
    "family-line-same-day": _("The guitar waits until somebody has had a look."),
    "family-line-stop": _("It was right to stop. Tell the teacher what was said; then the way back is step by step."),
    "family-line-skin": _SETTLED,
    "family-line-skin-later": _("Barre chords (one finger over several strings) rest until it is well again."),
    "family-line-waits-emergency": _(
        "If an arm, a leg or one side of the face is numb or weak now, call the emergency number."
    ),
    "family-line-waits-hospital": _("If nobody has looked at it yet, go to an emergency department now."),
    "family-line-waits-same-day": _("If nobody has looked at it yet, get medical advice today."),
    "family-line-waits-stop": _("Tell the teacher what was said; then the way back is step by step."),
    "family-line-itself": _MUSICIANS,
    "family-line-see-someone": _("Until then %(name)s plays only what feels fine."),
    "family-line-pause": _("%(name)s plays only what feels fine."),
    "family-line-ease-off": _("Stop before the hand is tired."),
    "family-line-skin-more": _("Stop before the fingertip is sore."),
    "family-line-skin-closes": _CLOSES,
    "family-line-numb-tip": _STAYS_NUMB,
    "family-line-skin-new": _FIRST_WEEKS,
    "who-grown-up": _("a grown-up at home"),
    "who-somebody": _("somebody at home"),
    "helper-grown-up": _("a grown-up"),
    "helper-somebody": _("somebody"),
    # what heads a day without an answer of the notes
    "day-stop": _("Stop for today."),
    "day-enough": _("That is enough for today."),
    "day-barres-rest": _("Rest the barres today."),
    "day-nothing-set": _("Nothing is set yet."),
    "day-start": _("Start with %(title)s."),
    # what happens next
    "next-told": _("%(teacher)s is told."),
    "next-told-stop": _("%(teacher)s is told. A doctor or hand therapist sees you before you play again."),
    "next-waits": _("%(teacher)s is told when this phone is connected."),
    "next-show": _("Show this to %(who)s: %(teacher)s could not be written to."),
    "next-call": _("Call %(teacher)s: the mail about it could not be sent."),
    "next-not-kept": _("Nothing you answered here was kept or sent. Tell %(teacher)s yourself."),
    "next-not-kept-young": _("Nothing you tapped here was kept or sent. Tell %(teacher)s, or ask %(who)s to."),
    "next-kept-nowhere": _("Nothing you answered here was kept or sent."),
    "next-lesson": _("The next lesson is on %(day)s."),
    "next-nothing-made-up": _("Nothing has to be made up."),
}

# Something was felt on a step of a return: the day is over, and where a clinician is to be asked, that is said first.
ANSWER |= {
    "young-return": _("Stop for today. Tell your teacher."),
    "young-return-see": _("Stop for today. Tell %(who)s: a doctor should look at your hand."),
    "young-line-return": _("It was right to say it. Your teacher decides how you go on."),
    "own-return": _("Stop for today."),
    "own-return-see": _("Stop for today. See a doctor or hand therapist."),
    "own-line-return": _("Something was felt on this step. Your teacher decides how you go on."),
    "family-return": _("No more playing today."),
    "family-return-see": _("No more playing today. A doctor or hand therapist should see %(name)s."),
    "family-line-return": _("Something was felt on this step. The teacher decides how to go on."),
    "rule-return": _("The rule: something was felt on a step of the return."),
    # music that rests the hand
    "rests-title": _("%(title)s"),
    "rests-listen": _("Listen, and tap a foot where the chord changes."),
    "rests-any": _("A song you like"),
    "rests-notes": _("Find five notes"),
    "rests-notes-how": _("On the drawn neck, without the guitar."),
    "rests-read": _("The next piece"),
    "rests-read-how": _("Look at it, and say its chords aloud in time."),
}

# What may be ticked under "Any of these?" (practice.handrows.ALSO).
TICKED: dict[str, Any] = {
    "fell": _("a fall, a blow or a cut"),
    "shape": _("an odd shape"),
    "hot": _("hot, red or swollen, pus or fever"),
    "numb": _("numb or tingling"),
    "weak": _("weak"),
    "itself": _("a finger moves by itself"),
    "snap": _("it snapped or grinds"),
    "extreme": _("extreme pain"),
    "cold": _("blue, white or icy"),
    "stuck": _("cannot be moved"),
}
