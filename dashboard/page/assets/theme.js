// Runs before the page is painted, so that a chosen theme does not flash the other one first.
// Without a choice the system's own is followed (see colours.css).
(() => {
  const chosen = localStorage.getItem("bandwright-theme");
  if (chosen === "light" || chosen === "dark") {
    document.documentElement.dataset.theme = chosen;
  }
})();
