/* What the pages do in the browser by themselves: light and dark, focus, saving, printing. */
(function () {
  "use strict";
  const guarded = (text) => (/^[=+\-@\t\r]/.test(text) && !/^[-+]?[\d.,]+( %)?$/.test(text) ? "'" + text : text);
  const cell = (text) => '"' + guarded(text.replace(/\u2212/g, "-").trim()).replace(/"/g, '""') + '"';

  function download(name, text, type) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text], { type: type + ";charset=utf-8" }));
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 1000);
  }

  function csv(table) {
    const words = (c) => cell((c.querySelector("[data-csv]") || c).textContent);
    return [...table.rows].map((row) => [...row.cells].map(words).join(",")).join("\r\n") + "\r\n";
  }

  const name = (text) => (text || document.title).replace(/[^\p{L}\p{N}]+/gu, "-").slice(0, 60);

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-save]");
    if (!button) return;
    const what = button.dataset.save;
    if (what === "print") {
      document.querySelectorAll("main details").forEach((d) => (d.open = true));
      window.print();
    } else if (what === "csv") {
      const table = button.closest(".tabled").querySelector("table");
      download(name(table.caption && table.caption.textContent) + ".csv", "\ufeff" + csv(table), "text/csv");
    } else if (what === "page") {
      window.envwatchKeeping.page().then((page) => download(name() + ".html", page, "text/html"));
    } else {
      const plot = button.closest("figure").querySelector(".js-plotly-plot");
      window.Plotly.downloadImage(plot, { format: what, width: 1200, height: 560, filename: name() });
    }
  });

  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches("[data-enter], [data-enter] input")) return;
    const form = event.target.closest(".form");
    // the last letter typed is handed on a moment after it is shown
    if (form) setTimeout(() => form.querySelector("button.press").click(), 150);
  });

  // parts of the page that come later and bear no name of their own
  new MutationObserver(() => {
    document.querySelectorAll(".drop input[type=file]:not([aria-label])").forEach((files) => {
      files.setAttribute("aria-label", files.closest(".drop").textContent || "Choose files");
    });
  }).observe(document.documentElement, { childList: true, subtree: true });

  // where the hand was: a page that is shown again after a press stays there, its form open for the next entry
  let begun = false, shown = "", hand = null;
  document.addEventListener("click", (event) => {
    const form = event.target.closest("main details.form");
    hand = form && { id: form.id, y: window.scrollY };
  }, true);
  function resumed() {
    const form = hand && document.getElementById(hand.id);
    if (!form) return false;
    form.open = true;
    window.scrollTo(0, hand.y);
    form.querySelector("button.press").focus({ preventScroll: true });
    return true;
  }
  function reveal(hash) {
    const target = hash.length > 1 && document.getElementById(decodeURIComponent(hash.slice(1)));
    if (!target) return false;
    if (target.tagName === "DETAILS") target.open = true;
    target.scrollIntoView();
    const field = target.querySelector("input:not([type=hidden])");
    if (field) field.focus({ preventScroll: true });
    return true;
  }
  document.addEventListener("click", (event) => {
    const link = event.target.closest("main a[href^='#']");
    if (link && reveal(link.getAttribute("href"))) event.preventDefault();
  });

  window.envwatch = {
    csv,
    scheme(clicks, kept) {
      const system = window.matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
      let now = kept || system;
      if (clicks && window.dash_clientside.callback_context.triggered.length) now = now === "dark" ? "light" : "dark";
      return [now, now === "dark" ? "light" : "dark", clicks ? now : kept || null];
    },
    arrived() {
      requestAnimationFrame(() => {
        const heading = document.querySelector("main h1");
        document.title = (heading ? heading.textContent + " · " : "") + "envwatch";
        const here = location.pathname + location.search, again = begun && here === shown;
        shown = here;
        if (again && resumed()) return;
        if (begun && heading && !document.activeElement.closest("main")) {
          heading.tabIndex = -1;
          heading.focus({ preventScroll: true });
          window.scrollTo(0, 0);
        }
        if (heading && location.hash) reveal(location.hash);
        begun = begun || !!heading;
      });
      return "";
    },
  };
})();
