// What the log's form holds, on its way out and back in: values by name, and what is wrong beside its field.
"use strict";

self.ledgerline = self.ledgerline || {};

self.ledgerline.form = function (form, look) {
  const field = (name) => form.elements[name];

  function openRound(place) {
    for (let within = place.closest("details"); within; within = within.parentElement.closest("details")) within.open = true;
  }

  function values() {
    const named = {};
    for (const [name, value] of new FormData(form)) {
      if (name !== "csrfmiddlewaretoken") (named[name] = named[name] || []).push(value);
    }
    return named;
  }

  function pour(named) {
    for (const control of form.elements) {
      if (!control.name || control.name === "csrfmiddlewaretoken" || control.type === "submit") continue;
      const given = named[control.name] || [];
      if (control.type === "checkbox" || control.type === "radio") control.checked = given.includes(control.value);
      else if (given.length) control.value = given[0];
      else if (control.name !== "day") control.value = "";
    }
    for (const name of Object.keys(named)) {
      const control = field(name);
      if (control && control.closest && named[name][0]) openRound(control);
    }
    form.dispatchEvent(new Event("filled"));
    form.dispatchEvent(new Event("change", { bubbles: true }));
    for (const part of form.querySelectorAll(".part")) part.dispatchEvent(new Event("change", { bubbles: true }));
    for (const drawn of form.querySelectorAll("[data-strings]")) drawn.dispatchEvent(new Event("change", { bubbles: true }));
  }

  function clearErrors() {
    for (const said of form.querySelectorAll("[data-said]")) said.remove();
    for (const old of form.querySelectorAll(".summary")) old.remove();
    for (const wrong of form.querySelectorAll(".wrong")) wrong.classList.remove("wrong");
    for (const control of form.querySelectorAll("[aria-invalid]")) control.removeAttribute("aria-invalid");
  }

  // errors: [[name, messages]]; first: what stands above them; above: what is to be seen before all of it
  function showErrors(errors, first, above) {
    clearErrors();
    const summary = document.createElement("div");
    summary.className = "summary stop";
    summary.setAttribute("role", "alert");
    summary.tabIndex = -1;
    summary.dataset.said = "";
    const line = summary.appendChild(document.createElement("p"));
    line.textContent = "■ " + (first || look);
    const items = summary.appendChild(document.createElement("ul"));
    for (const [name, messages] of errors) {
      const item = items.appendChild(document.createElement("li"));
      const found = name && field(name);
      const control = found && found.length !== undefined && !found.tagName ? found[0] : found;
      const place = control && control.closest(".field");
      if (!place) {
        item.textContent = messages.join(" ");
        continue;
      }
      const label = place.querySelector("label, legend");
      const link = item.appendChild(document.createElement("a"));
      link.href = "#" + (control.id || place.id);
      link.textContent = label ? label.firstChild.textContent.trim() : name;
      item.append(": " + messages.join(" "));
      place.classList.add("wrong");
      control.setAttribute("aria-invalid", "true");
      const said = place.appendChild(document.createElement("p"));
      said.className = "error";
      said.dataset.said = "";
      said.id = (control.id || name) + "_said";
      said.textContent = "■ " + messages.join(" ");
      control.setAttribute("aria-describedby", said.id);
      openRound(place);
    }
    form.prepend(summary);
    if (above) {
      above.dataset.said = "";
      form.prepend(above);
    }
    (above || summary).scrollIntoView({ block: "start" });
    summary.focus({ preventScroll: true });
  }

  return { field: field, values: values, pour: pour, clearErrors: clearErrors, showErrors: showErrors };
};
