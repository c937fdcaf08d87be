// How the plan dialog looks: made once, and then drawn from the server's answers.

import { byId, html, say, showing } from "./element.js";

const METRICS = [
  ["return_loss_db", "dB", "return loss in dB, at least"],
  ["vswr", "VSWR", "VSWR, at most"],
];
const ARROWS = { uplink: "↑", downlink: "↓", both: "" };
const HINT = "Search by number, name or frequency: 20, n78, 1800 MHz, Wi-Fi, or a range such as 868-870. What a region uses is a suggestion to edit, not a statement of what is licensed there.";

export function makeBuilder(root) {
  root.append(
    html(
      "fieldset",
      { id: "plan-fields" },
      html("legend", { class: "only-spoken" }, "Which bands the antenna must serve, and how good its match must be"),
      html(
        "div",
        { class: "plan-top" },
        field("Name", html("input", { id: "plan-title", "data-edit": "name", "data-focus": "name", maxlength: 100, autocomplete: "off" })),
        field("Start from region", html("select", { id: "plan-region", "data-edit": "region" })),
        field("Recent plans", html("select", { id: "plan-recent", "data-edit": "recent" })),
        field("Recipe", html("select", { id: "plan-recipe", "data-edit": "recipe" })),
      ),
      html(
        "div",
        { id: "plan-ask", role: "alertdialog", "aria-label": "Replace the bands", hidden: "" },
        html("p", {}),
        html("div", { class: "actions" }, press("replace", "Replace them"), press("keep", "Cancel")),
      ),
      html(
        "div",
        { class: "plan-columns" },
        html(
          "section",
          { "aria-label": "Add bands" },
          field("Add bands", html("input", { id: "plan-find", type: "search", "data-first": "", placeholder: "20, n78, 1800 MHz, Wi-Fi", autocomplete: "off", spellcheck: "false", enterkeyhint: "done", "aria-controls": "plan-found" })),
          html("ul", { id: "plan-found", "aria-label": "Found" }),
          html("p", { id: "plan-hint", class: "remark" }, HINT),
          html(
            "details",
            { id: "plan-own" },
            html("summary", {}, "A range of your own"),
            html(
              "div",
              { class: "own" },
              field("Name", html("input", { id: "own-name", maxlength: 100, placeholder: "gauge backhaul", autocomplete: "off" })),
              field("From, MHz", html("input", { id: "own-low", type: "number", step: "any", min: 0, placeholder: "868" })),
              field("To, MHz", html("input", { id: "own-high", type: "number", step: "any", min: 0, placeholder: "870" })),
              press("own range", "Add the range"),
            ),
          ),
        ),
        html(
          "section",
          { id: "plan-in", "aria-label": "In this plan" },
          html("div", { class: "plan-all" }, html("strong", { id: "plan-count" }), html("span", { id: "plan-limit" })),
          html("ul", { id: "plan-chosen" }),
        ),
      ),
      html(
        "details",
        { id: "plan-conditions" },
        html("summary", {}, "Conditions: ", html("span", { id: "conditions-words" })),
        html("p", { class: "remark" }, "For an acceptance the antenna is swept in each of these conditions, from top to bottom. Those ticked decide; the others show what changed."),
        html("ol", { id: "condition-rows" }),
        html(
          "div",
          { class: "own" },
          field("Add a condition", html("select", { id: "condition-known", "data-edit": "condition" })),
          field("Or one of your own", html("input", { id: "condition-own", maxlength: 30, placeholder: "under-snow", autocomplete: "off" })),
          press("own condition", "Add it"),
        ),
      ),
    ),
    html(
      "details",
      { id: "plan-advanced" },
      html("summary", {}, "Plan file (advanced)"),
      html("label", { class: "only-spoken", for: "plan-text" }, "The plan as text, in TOML"),
      html("textarea", { id: "plan-text", spellcheck: "false", rows: 14, autocapitalize: "off", autocomplete: "off", "aria-describedby": "plan-refused" }),
    ),
    html("p", { id: "plan-said", class: "only-spoken", role: "status" }),
    html(
      "footer",
      { class: "plan-foot" },
      html("p", { id: "plan-refused", role: "alert" }),
      html("ul", { id: "plan-doubts", class: "cautions" }),
      html(
        "div",
        { class: "actions" },
        html("button", { type: "button", id: "use-plan", class: "primary", "data-press": "use" }, "Use this plan"),
        press("undo", "Undo", { id: "plan-undo" }),
        press("discard", "Discard changes", { id: "plan-discard" }),
        html("span", { id: "plan-state", role: "status" }),
      ),
    ),
  );
}

export function drawForm(shown, { regions, typed, dirty, canUndo }) {
  const { form, text, problem, refused, doubts, usable } = shown;
  const looks = byId("page").dataset.role === "viewer";
  keepingFocus(byId("plan-builder"), () => {
    byId("plan-fields").disabled = form === null || looks;
    if (regions !== null) drawRegions(regions);
    if (!typed || byId("plan-text").value === text) byId("plan-text").value = text;
    byId("plan-text").readOnly = looks;
    byId("plan-text").setAttribute("aria-invalid", form === null);
    if (form !== null) drawPlan(form);
  });
  if (form === null) byId("plan-advanced").open = true;
  say(byId("plan-refused"), looks ? "You are looking. Ask at the bench for control to change the plan." : refused || problem);
  byId("plan-refused").dataset.kind = refused || form === null ? "refused" : "wanted";
  showing(byId("plan-doubts"), doubts, (all) => all.map((words) => html("li", {}, words)));
  byId("use-plan").disabled = !usable || looks;
  byId("plan-undo").hidden = !canUndo || looks;
  byId("plan-discard").hidden = !dirty || looks;
  say(byId("plan-state"), dirty ? "Not in use yet." : "In use.");
}

export function drawFound(found, shown, typed) {
  const keys = new Set(shown?.form?.bands.map((each) => each.key) ?? []);
  const rows = found.map((each) => ({ ...each, ticked: keys.has(each.key) }));
  keepingFocus(byId("plan-found"), () => showing(byId("plan-found"), rows, (all) => all.map(foundRow)));
  const none = typed.trim() !== "" && found.length === 0;
  say(byId("plan-hint"), none ? `Nothing is called "${typed.trim()}". ${HINT}` : HINT);
  byId("plan-hint").hidden = found.length > 0;
}

function drawPlan(form) {
  byId("plan-title").value = form.name;
  const count = form.bands.length;
  say(byId("plan-count"), count === 1 ? "1 band in this plan" : `${count} bands in this plan`);
  showing(byId("plan-limit"), { limit: form.limit, count }, ({ limit }) =>
    count < 2 ? [] : [html("span", {}, "One limit for all"), limitBox("One limit for all bands", limit ?? { metric: "return_loss_db", value: null }, {}, limit === null ? "differ" : "")],
  );
  showing(byId("plan-chosen"), form.bands, (bands) => bands.map(bandRow));
  const words = form.conditions.map((each) => each.label).join(", then ");
  say(byId("conditions-words"), words);
  showing(byId("condition-rows"), form.conditions, (all) => all.map((each, at) => conditionRow(each, at, all.length)));
  const left = form.known.filter(({ name }) => !form.conditions.some((each) => each.name === name));
  showing(byId("condition-known"), left, (all) => [option("", "choose ..."), ...all.map(({ name, label }) => option(name, label))]);
}

function drawRegions(regions) {
  showing(byId("plan-region"), regions, (all) => [option("", "choose ..."), ...all.map(({ name, label }) => option(name, label))]);
}

function foundRow({ key, title, also, ranges, ticked }) {
  const box = html("input", { type: "checkbox", "data-edit": "toggle", "data-key": key, "data-focus": `found ${key}` });
  box.checked = ticked;
  return html("li", {}, html("label", {}, box, html("b", {}, title), rangesOf(ranges), also === "" ? null : html("small", {}, also)));
}

function bandRow({ at, title, ranges, limits, splits, problem }) {
  const split = limits.length > 1;
  return html(
    "li",
    { "data-wrong": problem !== "" },
    html("span", { class: "what" }, html("b", {}, title), rangesOf(ranges)),
    splits || split
      ? press(split ? "join" : "split", split ? "Same for both" : "Per link", { "data-at": at, class: "quiet split", "data-focus": `split ${at}`, "aria-label": `${split ? "One limit for both links" : "A limit for each link"} of ${title}` })
      : null,
    html(
      "span",
      { class: "limits" },
      ...limits.map((limit) =>
        html("span", { class: "one" }, split ? html("small", {}, limit.link) : null, limitBox(`Limit of ${title} ${limit.link}`.trim(), limit, { "data-at": at, "data-link": limit.link }, limit.preset)),
      ),
    ),
    press("remove", "×", { "data-at": at, class: "icon remove", title: "Remove", "data-focus": `remove ${at}`, "aria-label": `Remove ${title}` }),
    problem === "" ? null : html("p", { class: "wrong" }, problem),
  );
}

function conditionRow({ name, label, judged }, at, count) {
  const box = html("input", { type: "checkbox", "data-edit": "decides", "data-name": name, "data-focus": `decides ${name}` });
  box.checked = judged;
  const step = (what, sign, words, off) => {
    const button = press(what, sign, { "data-at": at, class: "icon", "aria-label": `${words}: ${label}`, "data-focus": `${what} ${name}` });
    button.disabled = off;
    return button;
  };
  return html(
    "li",
    {},
    html("label", {}, box, html("b", {}, label), html("small", {}, judged ? "decides" : "for comparison")),
    step("up", "↑", "Earlier", at === 0),
    step("down", "↓", "Later", at === count - 1),
    step("remove condition", "×", "Remove", count === 1),
  );
}

function limitBox(label, { metric, value }, where, hint) {
  const input = html("input", { type: "number", step: "any", min: 0, inputmode: "decimal", "data-edit": "value", "data-focus": `value ${label}`, "aria-label": label, placeholder: hint, value, ...where });
  const select = html("select", { "data-edit": "metric", "data-focus": `metric ${label}`, "aria-label": `${label}: dB of return loss, or VSWR`, ...where }, ...METRICS.map(([name, words, title]) => option(name, words, { title })));
  select.value = metric;
  return html("span", { class: "limit" }, input, select);
}

function rangesOf(ranges) {
  const last = ranges.length - 1;
  const parts = ranges.map(({ link, words }, at) => html("span", {}, link === "both" ? null : html("span", { class: "arrow", role: "img", "aria-label": link }, ARROWS[link]), at === last ? `${words} MHz` : words));
  return html("span", { class: "ranges" }, ...parts);
}

function field(label, control) {
  return html("label", { class: "field" }, html("span", {}, label), control);
}

function press(what, words, more = {}) {
  return html("button", { type: "button", "data-press": what, ...more }, words);
}

export function option(value, words, more = {}) {
  return html("option", { value, ...more }, words);
}

// What is drawn anew must not lose the place where a person is, nor what they have begun to type.
function keepingFocus(root, drawAnew) {
  const active = root.contains(document.activeElement) ? document.activeElement : null;
  const key = active?.dataset.focus;
  const typed = active?.matches("input:not([type=checkbox])") && active.value !== active.defaultValue ? active.value : null;
  drawAnew();
  if (key === undefined || active.isConnected) return;
  const again = root.querySelector(`[data-focus="${CSS.escape(key)}"]`);
  if (again === null) {
    byId("plan-find").focus();
    return;
  }
  if (typed !== null) again.value = typed;
  again.focus();
}
