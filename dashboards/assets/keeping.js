/* A view as one file to send: its words, its charts as drawings, its tables. It loads nothing and runs nothing. */
(function () {
  "use strict";
  const DROPPED = ".noprint, .mantine-InputWrapper-root, .form, .drop, .unseen.skip, script, button, input, [role=status]:empty, .actions, .asks";
  const text = (words) => Object.assign(document.createElement("span"), { textContent: words }).innerHTML;

  function styles() {
    const own = [...document.styleSheets].filter((sheet) => (sheet.href || "").includes("/assets/envwatch.css"));
    const colours = [...document.querySelectorAll("head style")].find((style) => style.textContent.includes("--paper:"));
    const rules = own.flatMap((sheet) => [...sheet.cssRules].map((rule) => rule.cssText)).join("\n");
    return (colours ? colours.textContent.split("@media")[0] : "") + "\n" + rules + "\n.scroll{overflow:visible} .kept{font-size:.9rem;color:var(--soft)}";
  }

  async function drawing(plot) {
    const full = plot._fullLayout || {};
    const image = document.createElement("img");
    image.src = await window.Plotly.toImage(plot, { format: "svg", width: full.width || 900, height: full.height || 420 });
    image.alt = (plot.closest("[aria-label]") || plot).getAttribute("aria-label") || "chart";
    image.style.maxWidth = "100%";
    return image;
  }

  async function page() {
    const main = document.querySelector("main");
    const copy = main.cloneNode(true);
    const plots = [...main.querySelectorAll(".js-plotly-plot")];
    const copies = [...copy.querySelectorAll(".js-plotly-plot")];
    for (let n = 0; n < plots.length; n++) {
      const whole = copies[n].closest(".dash-graph") || copies[n];
      whole.replaceWith(await drawing(plots[n]));
    }
    copy.querySelectorAll("th button").forEach((heading) => heading.replaceWith(...heading.childNodes));
    copy.querySelectorAll("details").forEach((d) => (d.open = true));
    copy.querySelectorAll(DROPPED).forEach((part) => part.remove());
    // a heading with nothing under it but a hint on what may be entered
    copy.querySelectorAll("section").forEach((s) => s.querySelector(":scope > :not(h2, p.quiet, :empty)") || s.remove());
    copy.querySelectorAll("a").forEach((a) => a.replaceWith(...a.childNodes));
    copy.querySelectorAll("[id]").forEach((part) => part.removeAttribute("id"));
    const title = (copy.querySelector("h1") || {}).textContent || "envwatch";
    const whose = document.getElementById("name").textContent;
    const made = new Date().toLocaleString("sv").slice(0, 16);
    const policy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'";
    return (
      `<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">` +
      `<meta http-equiv="Content-Security-Policy" content="${policy}"><title>${text(title)}, ${text(whose)}</title>` +
      document.querySelector("link[rel=icon]").outerHTML +
      `<style>${styles().replace(/<\//g, "<\\/")}</style></head><body><div id="react-entry-point"><header><div class="whose">` +
      `<span class="mark">envwatch</span>${text(whose)}</div></header><main>${copy.innerHTML}</main>` +
      `<p class="kept">Saved on ${made} from ${text(location.pathname + location.search)}. What is shown is all in this file; it loads nothing.</p>` +
      `</div></body></html>\n`
    );
  }

  // on paper: charts as wide as the page
  window.addEventListener("beforeprint", () => {
    document.querySelectorAll(".js-plotly-plot .main-svg").forEach((svg) => {
      const { width, height } = svg.closest(".js-plotly-plot")._fullLayout;
      svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    });
  });
  window.addEventListener("afterprint", () => {
    document.querySelectorAll(".js-plotly-plot .main-svg").forEach((svg) => svg.removeAttribute("viewBox"));
  });

  window.envwatchKeeping = { page };
})();
