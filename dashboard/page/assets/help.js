// Help on every view: the chapter of the view, fetched from this server and shown in a panel. The
// chapters are the program's own files, and come as pages that run nothing.

import { byId } from "./element.js";
import { currentView } from "./views.js";

const PLACE = "/help/";

// What an address within the help names: a chapter, and the heading in it.
function named(address) {
  const url = new URL(address, location.href);
  if (url.origin !== location.origin || !url.pathname.startsWith(PLACE)) return null;
  return { chapter: url.pathname.slice(PLACE.length), heading: url.hash.slice(1) };
}

async function show({ chapter, heading }) {
  const article = byId("help-chapter");
  byId("help-alone").href = `${PLACE}${chapter}${heading ? `#${heading}` : ""}`;
  if (article.dataset.chapter !== chapter) {
    const answer = await fetch(`${PLACE}${chapter}`).catch(() => null);
    if (!answer?.ok) {
      article.textContent = "Help cannot be loaded: bandwright has stopped. Start it again.";
      return;
    }
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const found = page.querySelector("article.chapter");
    // Headings have ids, which must not meet those of the page.
    for (const each of found.querySelectorAll("[id]")) {
      each.dataset.heading = each.id;
      each.removeAttribute("id");
    }
    for (const link of found.querySelectorAll("a[href^='https:']")) link.target = "_blank";
    article.replaceChildren(...found.childNodes);
    article.dataset.chapter = chapter;
    for (const link of byId("help-chapters").children) {
      if (named(link.href).chapter === chapter) link.setAttribute("aria-current", "page");
      else link.removeAttribute("aria-current");
    }
  }
  byId("help-contents").open = false;
  const target = heading ? article.querySelector(`[data-heading="${CSS.escape(heading)}"]`) : null;
  article.focus({ preventScroll: true });
  if (target) target.scrollIntoView();
  else byId("help").scrollTop = 0;
}

// "plans" or "cables#types-of-cable", as a button of the page names it; else the view's own.
function asked(opener) {
  if (opener.dataset.chapter) {
    const [chapter, heading = ""] = opener.dataset.chapter.split("#");
    return { chapter, heading };
  }
  const chapters = JSON.parse(byId("help").dataset.chapters);
  return { chapter: chapters[currentView()] ?? chapters[""], heading: "" };
}

export function startHelp() {
  document.addEventListener("click", (event) => {
    const opener = event.target.closest?.('[data-opens="help"]');
    if (opener) show(asked(opener));
  });
  byId("help").addEventListener("click", (event) => {
    const link = event.target.closest?.("a[href]");
    if (!link || link.id === "help-alone" || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const inside = link.getAttribute("href").startsWith("#")
      ? { chapter: byId("help-chapter").dataset.chapter, heading: link.hash.slice(1) }
      : named(link.href);
    if (!inside) return;
    event.preventDefault();
    show(inside);
  });
}
