(function () {
  "use strict";
  const all = (query, from) => Array.from((from || document).querySelectorAll(query));
  const plotsOf = (from) => all(".js-plotly-plot", from);
  const fit = (plot) => {
    if (plot.clientWidth > 0) window.Plotly.Plots.resize(plot);
  };

  // A figure in a folded block has no width until the block opens.
  const opened = (event) => {
    if (!event.target.open) return;
    plotsOf(event.target).forEach(fit);
    scrollable(event.target);
  };
  document.addEventListener("toggle", opened, true);

  // A link to something in a folded block opens the block.
  const unfold = () => {
    const found = window.location.hash && document.getElementById(window.location.hash.slice(1));
    const own = found && found.querySelector(":scope > details.whole");
    if (own) own.open = true;
    let block = found && found.closest("details");
    while (block) {
      block.open = true;
      block = block.parentElement && block.parentElement.closest("details");
    }
    if (found) found.scrollIntoView();
  };
  window.addEventListener("hashchange", unfold);

  // Tables that are wider than the page can be scrolled from the keyboard.
  const nameOf = (box) => {
    const block = box.closest("details") || box.closest("section");
    const head = block && block.querySelector("summary, h3, h2");
    return head ? head.textContent : "Table";
  };
  function scrollable(from) {
    all(".wide, pre", from).forEach((box) => {
      const name = nameOf(box) + ", table that scrolls";
      const given = { tabindex: 0, role: "region", "aria-label": name };
      const scrolls = box.scrollWidth > box.clientWidth + 1;
      Object.entries(given).forEach(([key, value]) =>
        scrolls ? box.setAttribute(key, value) : box.removeAttribute(key));
    });
  }
  window.addEventListener("resize", () => scrollable(document));

  // Tables that can be sorted: numbers by their order, words by their letters, empty ones last.
  const keyOf = (cell) => {
    if (!cell.hasAttribute("data-order")) return cell.textContent.trim().toLowerCase();
    return cell.dataset.order === "" ? Infinity : Number(cell.dataset.order);
  };
  const sort = (body, place, down) => {
    const rows = Array.from(body.rows, (row) => [keyOf(row.cells[place]), row]);
    rows.sort(([a], [b]) => {
      if (a === b) return 0;
      if (a === Infinity || b === Infinity) return a === Infinity ? 1 : -1;
      return (a < b) === down ? 1 : -1;
    });
    body.append(...rows.map(([, row]) => row));
  };
  all("table.sortable").forEach((table) => {
    const heads = all("th[aria-sort]", table);
    heads.forEach((head) => head.querySelector("button").addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      heads.forEach((other) => other.setAttribute("aria-sort", "none"));
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      sort(table.tBodies[0], head.cellIndex, down);
    }));
  });

  // Filter of the inputs: every word must be in the row.
  const filter = document.getElementById("inputs-filter");
  if (filter) {
    const list = document.getElementById("inputs-list");
    const count = document.getElementById("inputs-count");
    const rows = all("tbody tr", list);
    const texts = rows.map((row) => row.textContent.toLowerCase());
    filter.addEventListener("input", () => {
      const words = filter.value.toLowerCase().split(/\s+/).filter(Boolean);
      rows.forEach((row, at) => {
        row.hidden = !words.every((word) => texts[at].includes(word));
      });
      all("details", list).forEach((block) => {
        block.hidden = all("tbody tr", block).every((row) => row.hidden);
        block.open = !block.hidden && words.length > 0;
      });
      const shown = rows.filter((row) => !row.hidden).length;
      count.textContent = words.length ? `${shown} of ${rows.length} inputs` : "";
      scrollable(list);
    });
  }

  // The part that is being read, in the navigation.
  const links = all("nav a");
  const parts = all("section[id]");
  let waiting = false;
  const mark = () => {
    waiting = false;
    const end = window.innerHeight + window.scrollY > document.body.scrollHeight - 4;
    const line = end ? window.innerHeight : 0.3 * window.innerHeight;
    const past = parts.filter((part) => part.getBoundingClientRect().top < line);
    const ids = past.length ? [past[past.length - 1].id] : ["part-design"];
    ids.push(...past.filter((part) => part.classList.contains("part")).slice(-1).map((part) => part.id));
    all("nav a[aria-current]").forEach((link) => link.removeAttribute("aria-current"));
    links.filter((link) => ids.includes(link.hash.slice(1)))
      .forEach((link) => link.setAttribute("aria-current", "true"));
  };
  window.addEventListener("scroll", () => {
    if (!waiting) {
      waiting = true;
      window.requestAnimationFrame(mark);
    }
  }, { passive: true });

  // Paper: figures take the width of the page, and all but the longest tables are unfolded; both
  // are as they were afterwards.
  const PAPER = 660;
  const narrow = (plot) => {
    const wide = plot.closest(".legs") ? PAPER / 2 - 10 : PAPER;
    window.Plotly.relayout(plot, { width: wide, autosize: false });
  };
  const widen = (plot) => {
    window.Plotly.relayout(plot, { width: null, autosize: true }).then(() => fit(plot));
  };
  const visible = () => plotsOf(document).filter((plot) => plot.clientWidth > 0);
  const folded = "main details:not(#part-behind details), #compliance details, #reproduce details";
  let unfolded = [];
  window.addEventListener("beforeprint", () => {
    unfolded = all(folded).filter((block) => !block.open);
    unfolded.forEach((block) => { block.open = true; });
    visible().forEach(narrow);
  });
  window.addEventListener("afterprint", () => {
    unfolded.forEach((block) => { block.open = false; });
    unfolded = [];
    visible().forEach(widen);
  });

  scrollable(document);
  mark();
  unfold();
})();
