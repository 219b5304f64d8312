(function () {
  "use strict";
  const all = (query, from) => Array.from((from || document).querySelectorAll(query));
  const byId = (id) => document.getElementById(id);
  const dataOf = (name) => JSON.parse(byId(name + "-data").textContent);
  const plotOf = (name) => byId("figure-" + name);
  const style = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

  // Planes of a full grid: what differs between them comes with the page.
  all("[data-planes]").forEach((box) => {
    const name = box.dataset.planes, data = dataOf(name);
    const pair = byId(name + "-pair"), held = byId(name + "-held");
    const labels = (rows) => rows.map((row) => Array.isArray(row) ? labels(row) : data.texts[row]);
    const show = () => {
      const slice = held ? Number(held.value) : 0;
      const words = [pair, held].filter(Boolean).map((one) => one.selectedOptions[0].text);
      byId(name + "-said").textContent = words.join("; ") + ".";
      Object.entries(data.figures).forEach(([figure, pairs]) => {
        const view = pairs[Number(pair.value)][slice];
        view.traces.forEach((trace, number) => {
          const change = {};
          Object.keys(trace).forEach((key) => {
            if (key === "rows") change.customdata = [labels(trace[key])];
            else change[key] = Array.isArray(trace[key]) ? [trace[key]] : trace[key];
          });
          window.Plotly.restyle(plotOf(figure), change, [number]);
        });
        window.Plotly.relayout(plotOf(figure), view.layout);
      });
    };
    pair.addEventListener("change", () => {
      if (held) {
        held.replaceChildren(...data.held[Number(pair.value)].map((text, at) => new Option(text, at)));
      }
      show();
    });
    if (held) held.addEventListener("change", show);
  });

  // Points in the plane of any two columns.
  all("[data-axes]").forEach((box) => {
    const name = box.dataset.axes, data = dataOf(name);
    ["x", "y"].forEach((axis) => {
      const choice = byId(name + "-" + axis);
      if (!choice) return;
      choice.addEventListener("change", () => {
        const column = data.columns[Number(choice.value)];
        Object.entries(data.figures).forEach(([figure, traces]) => {
          const values = traces.map((rows) => rows.map((row) => column.values[row]));
          window.Plotly.update(plotOf(figure), { [axis]: values },
            { [axis + "axis.title.text"]: column.title });
        });
      });
    });
  });

  // A scene says what the pointer is on, not that it is clicked; turning it is no click.
  const STILL = 4;
  const clickedInSpace = (plot, take) => {
    let over = null, began = null;
    plot.on("plotly_hover", (event) => { over = event; });
    plot.on("plotly_unhover", () => { over = null; });
    plot.addEventListener("pointerdown", (event) => {
      began = [event.clientX, event.clientY];
    }, true);
    plot.addEventListener("pointerup", (event) => {
      const still = began !== null &&
        Math.hypot(event.clientX - began[0], event.clientY - began[1]) < STILL;
      if (still && over !== null) take(over);
      began = null;
    }, true);
  };

  // The design behind a point: click, slider, or button of its row.
  all("[data-chosen]").forEach((box) => {
    const name = box.dataset.chosen, data = dataOf(name);
    const slider = byId(name + "-slider");
    const cells = all("td:nth-child(2)", byId(name + "-values"));
    const show = () => {
      const at = Number(slider.value);
      byId(name + "-said").textContent = data.said[at];
      byId(name + "-active").textContent = data.active[at];
      slider.setAttribute("aria-valuetext", data.said[at]);
      cells.forEach((cell, place) => { cell.textContent = data.values[at][place]; });
      Object.entries(data.figures).forEach(([figure, one]) => {
        const change = {};
        ["x", "y", "z"].forEach((key) => { if (one[key]) change[key] = [[one[key][at]]]; });
        if (one.trace !== undefined) window.Plotly.restyle(plotOf(figure), change, [one.trace]);
      });
    };
    const choose = (number) => {
      slider.value = number;
      show();
    };
    slider.addEventListener("input", show);
    Object.keys(data.figures).forEach((figure) => {
      const plot = plotOf(figure);
      const take = (event) => {
        const given = event.points[0].customdata;
        if (given === undefined || given === null) return;
        const number = data.labels.length ? data.labels.indexOf(given) : Number(given);
        if (number >= 0) choose(number);
      };
      if (plot.layout.scene) clickedInSpace(plot, take);
      else plot.on("plotly_click", take);
    });
    all('[data-chooses="' + name + '"]').forEach((button) => {
      button.addEventListener("click", () => {
        choose(button.value);
        slider.focus();
      });
    });
  });

  // Scenes are drawn without the style of the page.
  const dark = window.matchMedia("(prefers-color-scheme: dark)");
  const recolour = () => {
    all(".js-plotly-plot").filter((plot) => plot.layout && plot.layout.scene).forEach((plot) => {
      const change = {};
      ["xaxis", "yaxis", "zaxis"].forEach((axis) => {
        change["scene." + axis + ".color"] = style("--ink");
        change["scene." + axis + ".gridcolor"] = style("--line");
      });
      window.Plotly.relayout(plot, change);
    });
  };
  dark.addEventListener("change", recolour);
  window.matchMedia("print").addEventListener("change", recolour);
  recolour();

  // Parallel coordinates: a line for each design, lines outside of a range are left out.
  const TOP = 62, BOTTOM = 26, HEIGHT = 380, SIDE = 56, PAPER = 660, GROUPS = 5, LISTED = 50;
  const NAMESPACE = "http://www.w3.org/2000/svg";
  const short = (value) => {
    const text = String(Number(value.toPrecision(3)));
    return text.replace("-", "\u2212");
  };
  const tidy = (axis, value) => (Math.abs(value) < 1e-6 * axis.span ? 0 : value);
  const node = (parent, tag, given, text) => {
    const made = document.createElementNS(NAMESPACE, tag);
    Object.entries(given).forEach(([key, value]) => made.setAttribute(key, value));
    if (text !== undefined) made.textContent = text;
    parent.appendChild(made);
    return made;
  };
  const wrap = (text, letters) => {
    const lines = [""];
    text.split(" ").forEach((word) => {
      const last = lines[lines.length - 1];
      if (last && (last + " " + word).length > letters) lines.push(word);
      else lines[lines.length - 1] = last ? last + " " + word : word;
    });
    const kept = lines.slice(0, 3).map((line) =>
      line.length > letters ? line.slice(0, letters - 1) + "\u2026" : line);
    if (lines.length > 3) kept[2] = kept[2].slice(0, letters - 1).replace("\u2026", "") + "\u2026";
    return kept;
  };

  all("[data-parallel]").forEach((box) => {
    const name = box.dataset.parallel, data = dataOf(name), svg = byId(name);
    const axes = data.axes.map((axis, place) => {
      const known = axis.values.filter((value) => value !== null);
      const low = known.length ? Math.min(...known) : 0, high = known.length ? Math.max(...known) : 1;
      return { ...axis, low, high, span: high > low ? high - low : 1,
        fields: ["low", "high"].map((end) => byId(name + "-" + end + "-" + place)) };
    });
    let width = 0, paper = 0, paths = [], ranges = [];
    const across = (place) => SIDE + (width - 2 * SIDE) * (axes.length > 1 ? place / (axes.length - 1) : 0.5);
    const up = (axis, value) => HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * (value - axis.low) / axis.span;

    const limits = (axis) => axis.fields.map((field, end) => {
      const value = field.value === "" ? NaN : Number(field.value);
      return Number.isFinite(value) ? value : end === 0 ? -Infinity : Infinity;
    });
    const within = () => {
      const ends = axes.map(limits);
      const found = [];
      data.groups.forEach((_, row) => {
        const inside = axes.every((axis, place) => {
          const value = axis.values[row], [low, high] = ends[place];
          if (low === -Infinity && high === Infinity) return true;
          return value !== null && value >= low && value <= high;
        });
        if (inside) found.push(row);
      });
      return found;
    };
    const line = (row) => {
      let text = "", pen = "M";
      axes.forEach((axis, place) => {
        const value = axis.values[row];
        if (value === null) { pen = "M"; return; }
        text += pen + across(place).toFixed(1) + " " + up(axis, value).toFixed(1);
        pen = "L";
      });
      return text;
    };
    const list = (rows) => {
      byId(name + "-rows").replaceChildren(...rows.slice(0, LISTED).map((row) => {
        const made = document.createElement("tr");
        axes.forEach((axis) => {
          const cell = document.createElement("td");
          const value = axis.values[row];
          cell.textContent = value === null ? "\u2013" : (short(tidy(axis, value)) + " " + axis.unit).trim();
          made.appendChild(cell);
        });
        return made;
      }));
    };
    const brush = () => {
      const rows = within(), parts = Array.from({ length: GROUPS }, () => []);
      rows.forEach((row) => parts[data.groups[row]].push(line(row)));
      paths.forEach((path, group) => path.setAttribute("d", parts[group].join("")));
      axes.forEach((axis, place) => {
        const [low, high] = limits(axis).map((value) =>
          Math.min(Math.max(value, axis.low), axis.high));
        const brushed = axis.fields.some((field) => field.value !== "");
        const top = up(axis, high), end = up(axis, low);
        ranges[place].setAttribute("y", top.toFixed(1));
        ranges[place].setAttribute("height", brushed ? Math.max(end - top, 2).toFixed(1) : 0);
      });
      byId(name + "-count").textContent = rows.length + " of " + data.groups.length +
        " lines within the ranges" + (rows.length > LISTED ? ", the first " + LISTED + " listed below" : "");
      list(rows);
    };
    const drag = (axis, area) => {
      let began = null;
      const value = (event) => {
        const share = (HEIGHT - BOTTOM - (event.clientY - svg.getBoundingClientRect().top)) /
          (HEIGHT - TOP - BOTTOM);
        return axis.low + axis.span * Math.min(1, Math.max(0, share));
      };
      area.addEventListener("pointerdown", (event) => {
        began = value(event);
        area.setPointerCapture(event.pointerId);
      });
      area.addEventListener("pointermove", (event) => {
        if (began === null) return;
        const ends = [began, value(event)].sort((a, b) => a - b);
        axis.fields.forEach((field, end) => { field.value = Number(ends[end].toPrecision(4)); });
        brush();
      });
      area.addEventListener("pointerup", (event) => {
        if (began !== null && Math.abs(value(event) - began) < 0.01 * axis.span) {
          axis.fields.forEach((field) => { field.value = ""; });
          brush();
        }
        began = null;
      });
    };
    const draw = () => {
      if (svg.parentElement.clientWidth === 0) return;
      width = paper || svg.parentElement.clientWidth;
      svg.replaceChildren();
      svg.setAttribute("width", width);
      svg.setAttribute("height", HEIGHT);
      paths = Array.from({ length: GROUPS }, (_, group) => node(svg, "path", { class: "line group-" + group }))
        .reverse().map((path) => { svg.appendChild(path); return path; }).reverse();
      const letters = Math.max(6, Math.floor(Math.min(2 * SIDE - 6, (width - 2 * SIDE) / Math.max(axes.length - 1, 1)) / 6.5));
      ranges = axes.map((axis, place) => {
        const x = across(place);
        node(svg, "line", { class: "axis", x1: x, x2: x, y1: TOP, y2: HEIGHT - BOTTOM });
        const lines = wrap(axis.title + (axis.unit ? " [" + axis.unit + "]" : ""), letters);
        lines.forEach((text, at) => node(svg, "text",
          { x, y: TOP - 20 - 13 * (lines.length - 1 - at), "text-anchor": "middle" }, text));
        node(svg, "text", { class: "end", x, y: TOP - 5, "text-anchor": "middle" }, short(tidy(axis, axis.high)));
        node(svg, "text", { class: "end", x, y: HEIGHT - 10, "text-anchor": "middle" }, short(tidy(axis, axis.low)));
        const range = node(svg, "rect", { class: "range", x: x - 6, width: 12, y: TOP, height: 0 });
        const area = node(svg, "rect", { class: "grip", x: x - 12, width: 24, y: TOP, height: HEIGHT - TOP - BOTTOM });
        drag(axis, area);
        return range;
      });
      brush();
    };
    byId(name + "-head").replaceChildren(...axes.map((axis) => {
      const cell = document.createElement("th");
      cell.scope = "col";
      cell.textContent = axis.title;
      return cell;
    }));
    axes.forEach((axis) => axis.fields.forEach((field, end) => {
      field.placeholder = short(tidy(axis, end === 0 ? axis.low : axis.high));
      field.addEventListener("input", brush);
    }));
    byId(name + "-clear").addEventListener("click", () => {
      axes.forEach((axis) => axis.fields.forEach((field) => { field.value = ""; }));
      brush();
    });
    new ResizeObserver(() => {
      if (!paper && svg.parentElement.clientWidth !== width) draw();
    }).observe(svg.parentElement);
    [["beforeprint", PAPER], ["afterprint", 0]].forEach(([event, wide]) => {
      window.addEventListener(event, () => {
        paper = wide;
        draw();
      });
    });
    draw();
  });
})();
