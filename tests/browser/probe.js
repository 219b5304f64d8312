// What a reader would notice, measured in the page; every function returns plain lists of words.
window.probe = (() => {
  "use strict";
  const words = (node) => (node.textContent || "").trim().replace(/\s+/g, " ").slice(0, 60);
  const named = (node) => {
    const name = node.id ? "#" + node.id : node.className && node.getAttribute("class");
    const said = node.getAttribute("aria-label") || words(node);
    return node.tagName.toLowerCase() + (name ? " " + name : "") + (said ? " '" + said + "'" : "");
  };
  const shown = (node) =>
    node.checkVisibility({ contentVisibilityAuto: true, visibilityProperty: true }) &&
    node.getClientRects().length > 0;
  const every = (chosen) => [...document.querySelectorAll(chosen)].filter(shown);
  const rounded = (value) => Math.round(value * 10) / 10;

  // ---- width

  const scrolls = (node) => {
    for (let one = node.parentElement; one && one !== document.body; one = one.parentElement) {
      if (getComputedStyle(one).overflowX !== "visible") return true;
    }
    return false;
  };
  const overflow = () => {
    const width = document.documentElement.clientWidth;
    const found = [];
    if (document.documentElement.scrollWidth > width) {
      found.push("page is " + document.documentElement.scrollWidth + " px wide of " + width);
    }
    for (const node of document.body.querySelectorAll("*")) {
      const box = node.getBoundingClientRect();
      if (box.width === 0 || !shown(node) || scrolls(node)) continue;
      if (box.right > width + 1 || (box.left < -1 && box.right > 0)) {
        found.push(named(node) + ": " + rounded(box.left) + " to " + rounded(box.right) + " px");
      }
    }
    return found;
  };
  const cut = () => {
    const found = [];
    for (const text of every("svg text")) {
      if (text.closest("[class*=hover]") || !words(text)) continue;
      const svg = [...parents(text)].filter((one) => one.tagName === "svg").pop();
      const a = text.getBoundingClientRect(), b = svg.getBoundingClientRect();
      const over = Math.max(a.right - b.right, b.left - a.left, a.bottom - b.bottom, b.top - a.top);
      if (over > 1) found.push(named(text) + " is cut by " + rounded(over) + " px");
    }
    const held = "h1,h2,h3,h4,p,li,td,th,summary,button,label,figcaption,dt,dd,a,pre";
    for (const node of every(held)) {
      const style = getComputedStyle(node);
      const stops = (side) => style["overflow" + side] === "hidden" || style["overflow" + side] === "clip";
      const wide = stops("X") && node.scrollWidth > node.clientWidth + 1;
      const tall = stops("Y") && node.scrollHeight > node.clientHeight + 1;
      if (node.clientWidth > 1 && (wide || tall)) found.push(named(node) + " is cut");
    }
    return found;
  };
  // Words of a table that are broken although they are short.
  const broken = () => {
    const found = [];
    for (const cell of every("td,th")) {
      const walker = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT);
      while (walker.nextNode()) {
        const text = walker.currentNode;
        for (const word of text.data.matchAll(/[^\s\u00a0\-–−]+/g)) {
          if (word[0].length > 16 || /[_/:]/.test(word[0]) || !shown(text.parentElement)) continue;
          const range = document.createRange();
          range.setStart(text, word.index);
          range.setEnd(text, word.index + word[0].length);
          const lines = new Set([...range.getClientRects()].map((box) => Math.round(box.top)));
          if (lines.size > 1) found.push("'" + word[0] + "' in " + named(cell));
        }
      }
    }
    return found;
  };
  const overlapping = () => {
    const found = [];
    for (const svg of every("svg")) {
      if (svg.parentElement.closest("svg")) continue;
      const texts = [...svg.querySelectorAll("text")].filter((one) => shown(one) && words(one));
      const boxes = texts.map((one) => one.getBoundingClientRect());
      for (let i = 0; i < boxes.length; i += 1) {
        for (let k = i + 1; k < boxes.length; k += 1) {
          const a = boxes[i], b = boxes[k];
          const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
          const tall = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
          if (wide > 2 && tall > 0.4 * Math.min(a.height, b.height)) {
            found.push(named(texts[i]) + " over " + named(texts[k]));
          }
        }
      }
    }
    return found;
  };

  // ---- colour

  function* parents(node) {
    for (let one = node.parentElement; one; one = one.parentElement) yield one;
  }
  const canvas = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  const colour = (text) => {
    canvas.clearRect(0, 0, 1, 1);
    canvas.fillStyle = text;
    canvas.fillRect(0, 0, 1, 1);
    const [r, g, b, a] = canvas.getImageData(0, 0, 1, 1).data;
    return [r, g, b, a / 255];
  };
  const over = (front, back) => {
    const a = front[3];
    return [0, 1, 2].map((i) => a * front[i] + (1 - a) * back[i]).concat([1]);
  };
  const brightness = (one) => {
    const [r, g, b] = one.map((value) => {
      const share = value / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const ratio = (one, other) => {
    const [low, high] = [brightness(one), brightness(other)].sort((a, b) => a - b);
    return (high + 0.05) / (low + 0.05);
  };
  const behind = (node) => {
    const layers = [];
    for (const one of [node, ...parents(node)]) {
      if (one.namespaceURI.endsWith("svg") && one.tagName !== "svg") continue;
      const back = colour(getComputedStyle(one).backgroundColor);
      layers.push(back);
      if (back[3] === 1) break;
    }
    const dark = matchMedia("(prefers-color-scheme: dark)").matches;
    const empty = dark && !matchMedia("print").matches ? [18, 18, 18, 1] : [255, 255, 255, 1];
    return layers.reverse().reduce((below, layer) => over(layer, below), empty);
  };
  const faded = (node) => {
    let share = 1;
    for (const one of [node, ...parents(node)]) share *= Number(getComputedStyle(one).opacity);
    return share;
  };
  const painted = (node, kind) => {
    const style = getComputedStyle(node);
    const given = style[kind];
    if (!given || given === "none" || given.startsWith("url")) return null;
    const one = colour(given);
    const share = kind === "color" ? 1 : Number(style[kind + "Opacity"]);
    return [...one.slice(0, 3), one[3] * share * faded(node)];
  };
  const beneath = (text) => {
    text.scrollIntoView({ block: "center", inline: "center" });
    const box = text.getBoundingClientRect();
    const all = document.elementsFromPoint(box.x + box.width / 2, box.y + box.height / 2);
    let back = behind(text);
    const shapes = all.filter((one) =>
      one.namespaceURI.endsWith("svg") && /^(path|rect|circle|polygon|ellipse)$/.test(one.tagName));
    for (const shape of shapes.reverse()) {
      if (shape.compareDocumentPosition(text) & Node.DOCUMENT_POSITION_PRECEDING) continue;
      const fill = painted(shape, "fill");
      if (fill !== null) back = over(fill, back);
    }
    return back;
  };
  const contrast = () => {
    const found = new Set();
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const node = walker.currentNode.parentElement;
      if (!walker.currentNode.data.trim() || !shown(node) || node.closest("[aria-hidden=true]")) continue;
      const svg = node.namespaceURI.endsWith("svg");
      if (svg && node.closest("[class*=hover]")) continue;
      const front = painted(node, svg ? "fill" : "color");
      if (front === null) continue;
      const style = getComputedStyle(node), size = parseFloat(style.fontSize);
      const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
      const back = svg ? beneath(node) : behind(node);
      const got = ratio(over(front, back), back);
      if (got < (large ? 3 : 4.5)) {
        found.add("text " + named(node) + " has a contrast of " + got.toFixed(2));
      }
    }
    return [...found];
  };
  const graphics = () => {
    const found = new Set();
    const chosen = ".scatterlayer path.js-line,.scatterlayer path.point,.barlayer .point path";
    for (const node of every(chosen)) {
      const back = behind(node);
      const kinds = node.classList.contains("js-line") ? ["stroke"] : ["stroke", "fill"];
      const parts = kinds.map((kind) => painted(node, kind)).filter((one) => one && one[3] > 0);
      if (parts.length === 0) continue;
      const got = Math.max(...parts.map((one) => ratio(over(one, back), back)));
      const where = node.closest(".js-plotly-plot").id;
      const ink = parts.map((one) => "rgba(" + one.map(rounded).join(" ") + ")").join(" and ");
      if (got < 3) found.add(where + ": " + ink + " has a contrast of " + got.toFixed(2));
    }
    return [...found];
  };
  // Pairs of traces of one kind that differ only by colour: no dash, mark, pattern or place in a row.
  const soleColour = () => {
    const found = new Set();
    for (const plot of every(".js-plotly-plot")) {
      const traces = plot.calcdata.map((one) => one[0].trace)
        .filter((one) => one.visible === true && one.yaxis && (one.type === "bar" || /lines|markers/.test(one.mode)));
      const sign = (one) => one.type === "bar" ?
        ["bar", one.marker.pattern && one.marker.pattern.shape] :
        [one.type, one.mode, /lines/.test(one.mode) && one.line.dash, /lines/.test(one.mode) && one.line.width,
          /markers/.test(one.mode) && one.marker.symbol, one.fill];
      const ink = (one) => one.type === "bar" || !/lines/.test(one.mode) ? one.marker.color : one.line.color;
      traces.forEach((one, i) => traces.slice(i + 1).forEach((other) => {
        if (typeof ink(one) !== "string" || typeof ink(other) !== "string") return;
        const alike = JSON.stringify(sign(one)) === JSON.stringify(sign(other));
        const written = one.text && other.text;
        const rows = plot._fullLayout[one.yaxis.replace("y", "yaxis")].type === "category" &&
          !one.y.some((row) => other.y.includes(row));
        if (alike && ink(one) !== ink(other) && !written && !rows) {
          found.add(plot.id + ": '" + one.name + "' and '" + other.name + "' differ only in colour");
        }
      }));
      for (const one of traces) {
        const inks = new Set(Array.isArray(one.marker && one.marker.color) ? one.marker.color : []);
        const shapes = new Set([one.marker && one.marker.pattern && one.marker.pattern.shape].flat());
        const noted = plot.calcdata.some((all) => all[0].trace.mode === "text") || one.text;
        if (one.type === "bar" && inks.size > 1 && shapes.size < 2 && !noted) {
          found.add(plot.id + ": bars of " + inks.size + " colours, one pattern, no text beside them");
        }
      }
    }
    return [...found];
  };
  const page = () => brightness(behind(document.body));

  // ---- keyboard

  const INTERACTIVE = "a[href],button,input,select,textarea,summary,[tabindex]:not([tabindex='-1'])," +
    "[role=button],[role=slider],[role=tab],[role=checkbox],[role=link]";
  const interactive = () => every(INTERACTIVE).filter((one) =>
    !one.disabled && !(one.type === "radio" && one.name && !one.checked));
  const mark = () => {
    interactive().forEach((one, number) => { one.dataset.probe = number; });
    return interactive().length;
  };
  const focus = () => {
    const node = document.activeElement;
    if (!node || node === document.body || node === document.documentElement) return null;
    const style = getComputedStyle(node), box = node.getBoundingClientRect();
    const at = document.elementsFromPoint(
      Math.min(innerWidth - 1, Math.max(0, box.x + Math.min(box.width / 2, 40))),
      Math.min(innerHeight - 1, Math.max(0, box.y + Math.min(box.height / 2, 10))));
    const ring = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 1;
    const clear = !ring || style.outlineStyle === "auto" ? 3 :
      ratio(over(colour(style.outlineColor), behind(node.parentElement)), behind(node.parentElement));
    return {
      number: node.dataset.probe === undefined ? -1 : Number(node.dataset.probe),
      name: named(node),
      ring: (ring && clear >= 3) || style.boxShadow !== "none",
      seen: at.length > 0 && (node.contains(at[0]) || at[0].contains(node)),
    };
  };
  const unreached = (numbers) => interactive()
    .filter((one) => !numbers.includes(Number(one.dataset.probe))).map(named);

  // ---- figures

  const figures = () => every(".js-plotly-plot").map((one) => one.id);
  const title = (node) => node.getAttribute("aria-label") ||
    (node.getAttribute("aria-labelledby") || "").split(" ").map((id) => {
      const one = document.getElementById(id);
      return one ? one.textContent : "";
    }).join(" ").trim() || (node.querySelector(":scope > title,:scope > figcaption") || {}).textContent;
  const unnamed = () => every(".js-plotly-plot,svg:not(svg svg,.js-plotly-plot svg,[id^=js-plotly])")
    .filter((one) => ![one, ...parents(one)].some((up) =>
      up === one || /^(figure)$/i.test(up.tagName) || /^(img|figure|group)$/.test(up.getAttribute("role"))
        ? title(up) : false))
    .map(named);
  const points = (id) => {
    const plot = document.getElementById(id), full = plot._fullLayout;
    plot.scrollIntoView({ block: "center" });
    const box = plot.getBoundingClientRect(), found = [];
    plot.calcdata.forEach((trace) => {
      const own = trace[0].trace;
      if (own.hoverinfo === "skip" || own.visible !== true || own.x === undefined || !own.xaxis) return;
      const x = full[own.xaxis.replace("x", "xaxis")], y = full[own.yaxis.replace("y", "yaxis")];
      const usable = trace.filter((one) => Number.isFinite(one.x) && Number.isFinite(one.y));
      [0.5, 0, 1].forEach((share) => {
        const one = usable[Math.round(share * (usable.length - 1))];
        if (one === undefined) return;
        const flat = own.type === "bar" && own.orientation === "h";
        const along = flat ? (one.s0 === undefined ? one.x : one.x - 0.5 * (one.s1 - one.s0)) : one.x;
        const upward = own.type === "bar" && !flat && one.s0 !== undefined ?
          one.y - 0.5 * (one.s1 - one.s0) : one.y;
        found.push([box.x + x._offset + x.c2p(along), box.y + y._offset + y.c2p(upward), own.type]);
      });
    });
    return found;
  };
  const hovered = () => [...document.querySelectorAll(".hoverlayer .hovertext")]
    .map((one) => [...one.querySelectorAll("text")].map((text) => text.textContent).join(" ").trim())
    .filter(Boolean);

  // ---- print

  const behindFolds = () => [...document.querySelectorAll("details")].map((one) => {
    const title = one.querySelector("summary").textContent;
    const cells = [...one.querySelectorAll("tbody td")].slice(0, 8).map((cell) => cell.textContent);
    const text = one.cloneNode(true);  // controls serve a screen only
    text.querySelectorAll(":scope > summary, .controls, script, svg").forEach((each) => each.remove());
    const inner = cells.length > 0 ? cells.sort((a, b) => b.length - a.length)[0] : text.textContent;
    return [one.closest("section.part") ? one.closest("section.part").id : "", title.trim(),
      inner.replace(/\s+/g, "").slice(0, 24)];
  });
  // Pictures that paper may cut in two: nothing around them keeps together, or it is too tall.
  const splittable = (tallest) =>
    every(".js-plotly-plot,svg:not(svg svg,.js-plotly-plot svg,[id^=js-plotly])")
    .filter((one) => one.getBoundingClientRect().height > 40)
    .filter((one) => ![one, ...parents(one)].some((up) => /avoid/.test(getComputedStyle(up).breakInside) &&
      up.getBoundingClientRect().height <= tallest)).map(named);
  const figureWords = () => every(".js-plotly-plot")
    .map((one) => ({
      name: named(one),
      words: [...one.querySelectorAll("text")].filter(shown)
        .flatMap((text) => text.childElementCount ? [...text.children] : [text])
        .map((text) => text.textContent.replace(/\s+/g, "")).filter(Boolean),
    })).filter((one) => one.words.length > 0);

  return { overflow, cut, overlapping, contrast, graphics, soleColour, page, mark, focus, unreached, figures,
    unnamed, points, hovered, broken, behindFolds, splittable, figureWords };
})();
