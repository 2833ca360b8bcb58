"""Contrast of every pair of tokens, and the habits that every template keeps.

Sources: WCAG 2.2, success criteria 1.4.3 (text 4.5:1) and 1.4.11 (lines of controls and graphics 3:1), and its
definitions of "contrast ratio" and "relative luminance". Content Security Policy Level 3: what 'self' alone forbids.
"""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django import forms
from django.conf import settings
from django.template.loader import render_to_string
from django.test import RequestFactory

from practice.chart_svg import TOKENS, tokens

THEMES = ("light", "dark", "print")
TEMPLATES = sorted((Path(settings.BASE_DIR) / "templates").rglob("*.html"))


def luminance(colour: str) -> float:
    """Relative luminance of "#rrggbb" after WCAG 2.2."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio after WCAG 2.2: (lighter + 0.05) / (darker + 0.05)."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_formula():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.2: ratios range from 1 to 21
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # from memory: just fails 4.5


# what is written or drawn, on what, least contrast
PAIRS = [
    *(
        (text, ground, 4.5)
        for text in ("ink", "muted", "accent", "good", "caution", "stop")
        for ground in ("paper", "surface")
    ),
    ("on", "accent", 4.5),  # the main action, and selected text
    ("paper", "ink", 4.5),  # a chosen chip, a pressed button, numbers in the dots of a diagram
    *(("line", ground, 3.0) for ground in ("paper", "surface")),
]


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("text", "ground", "least"), PAIRS)
def test_contrast_of_tokens(theme, text, ground, least):
    found = tokens(theme)
    assert contrast(found[text], found[ground]) >= least


@pytest.mark.parametrize("theme", THEMES)
def test_every_theme_has_every_token(theme):
    assert set(tokens(theme)) == set(TOKENS)


def test_print_is_black_on_white():
    assert tokens("print")["ink"] == "#000000"
    assert tokens("print")["paper"] == tokens("print")["surface"] == "#ffffff"


def test_theme_colours_of_the_browser_bar_are_the_paper_tokens():
    base = (Path(settings.BASE_DIR) / "templates/base.html").read_text()
    found = dict(re.findall(r'name="theme-color" media="\(prefers-color-scheme: (\w+)\)" content="(#\w{6})"', base))
    assert {theme: colour.lower() for theme, colour in found.items()} == {
        theme: tokens(theme)["paper"] for theme in ("light", "dark")
    }


class Policed(HTMLParser):
    """Collects what a Content-Security-Policy without unsafe-inline would not run or apply."""

    def __init__(self):
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag, attributes):
        names = dict(attributes)
        self.found += [f"{tag} {name}" for name in names if name == "style" or name.startswith(("on", "hx-on"))]
        if tag == "style" or (tag == "script" and "src" not in names and names.get("type") != "application/json"):
            self.found.append(tag)


def policed(html: str) -> list[str]:
    parser = Policed()
    parser.feed(html)
    return parser.found


def test_policed_sees_what_it_should():
    html = '<p style="x" onclick="y"></p><style></style><script>z</script><script src="a.js"></script>'
    assert policed(html) == ["p style", "p onclick", "style", "script"]


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_no_template_needs_inline_style_or_script(path):
    assert policed(re.sub(r"\{%.*?%\}|\{\{.*?\}\}", "", path.read_text(), flags=re.DOTALL)) == []


@pytest.mark.parametrize("name", ["403.html", "403_csrf.html", "404.html", "500.html"])
def test_error_pages_stand_without_any_context(name):
    html = render_to_string(name, {})
    assert html.count("<h1>") == 1
    assert "Ledgerline" in html
    assert "site.css" in html


def test_a_page_that_needs_a_link_says_how_to_open_it():
    assert "personal link" in render_to_string("404.html", {"needs_link": True})


def test_styles_name_only_known_tokens():
    css = (Path(settings.BASE_DIR) / "studio/static/studio/site.css").read_text()
    used = set(re.findall(r"var\(--([\w-]+)\)", css))
    assert used - set(TOKENS) == {"serif", "sans", "measure"}


class Asked(forms.Form):
    name = forms.CharField(help_text="As the family says it.")
    rating = forms.ChoiceField(
        label="How tiring?",
        required=False,
        help_text="0 not at all, 10 had to stop",
        widget=forms.RadioSelect(attrs={"class": "scale"}),
        choices=[(n, n) for n in range(11)],
    )
    where = forms.ChoiceField(widget=forms.RadioSelect, choices=[("wrist", "wrist"), ("thumb", "thumb")])
    own = forms.BooleanField(label="Own chords only", required=False)
    code = forms.CharField(widget=forms.HiddenInput)


def field(name: str, data: dict | None) -> str:
    return render_to_string("_field.html", {"field": Asked(data)[name]})


def test_field_has_its_label_above_and_its_help_below():
    html = field("name", None)
    assert html.index('<label for="id_name">') < html.index("<input") < html.index("As the family")
    assert 'aria-describedby="id_name_helptext"' in html
    assert 'id="id_name_helptext"' in html
    assert "error" not in html


def test_field_error_stands_beside_it_with_mark_and_word():
    html = field("name", {"name": ""})
    assert 'aria-invalid="true"' in html
    assert 'aria-describedby="id_name_helptext id_name_error"' in html
    error = html[html.index('id="id_name_error"') :]
    assert "■" in error
    assert "Error:" in error
    assert "This field is required." in error


def test_typed_text_is_kept_and_escaped():
    html = field("name", {"name": '"><script>'})
    assert "<script>" not in html
    assert "&quot;&gt;&lt;script&gt;" in html


def test_scale_is_a_fieldset_of_eleven_labelled_radios():
    html = field("rating", {"rating": "4"})
    assert html.count('type="radio"') == 11
    assert html.count('<label class="chip"') == 11
    assert '<div class="chips scale">' in html
    assert "<legend>How tiring?" in html
    assert 'aria-describedby="id_rating_helptext"' in html
    assert re.search(r'value="4"[^>]*checked', html)


def test_fieldset_error_is_described_by_the_fieldset():
    html = field("where", {})
    assert 'aria-describedby="id_where_error"' in html
    assert 'id="id_where_error"' in html


def test_check_box_and_hidden_field():
    assert "Own chords only" in field("own", None)
    assert field("code", None).strip() == '<input type="hidden" name="code" id="id_code">'


def test_error_summary_leads_to_the_fields():
    form = Asked({})
    html = render_to_string("_errors.html", {"form": form})
    assert 'href="#id_name"' in html
    assert 'role="alert"' in html
    assert 'id="id_where"' in field("where", {})
    assert render_to_string("_errors.html", {"form": Asked()}).strip() == ""


def shell(name: str) -> str:
    request = RequestFactory().get("/")
    request.viewer = None
    return render_to_string(name, {"nav": "today"}, request=request)


def test_teachers_pages_load_htmx_as_a_file_that_writes_no_style_and_keeps_no_pages():
    html = shell("base_teacher.html")
    assert re.findall(r"<script[^>]*>", html) == ['<script src="/static/django_htmx/htmx-2.min.js" defer>']
    config = re.search(r"name=\"htmx-config\" content='([^']*)'", html).group(1)
    assert '"includeIndicatorStyles": false' in config
    assert '"allowEval": false' in config
    assert '"historyCacheSize": 0' in config
    assert "X-CSRFToken" in html
    assert policed(html) == []


def test_phones_load_no_library():
    assert "<script" not in shell("base_phone.html")


@pytest.mark.parametrize("name", ["base_teacher.html", "base_phone.html"])
def test_pages_begin_with_a_link_past_the_header(name):
    html = shell(name)
    assert html.index('class="skip" href="#content"') < html.index("<header")
    assert '<main id="content"' in html


@pytest.mark.parametrize(("who", "sees"), [("owner", True), ("teacher", False)])
def test_only_the_owner_sees_studio_in_the_navigation(cast, who, sees):
    html = cast.client(who).get(f"/students/{cast.student.code}/charts/").content.decode()
    assert ('href="/studio/"' in html) is sees
    assert 'href="/roster/" aria-current="page"' in html
    assert getattr(cast, who).name in html
