(function () {
  "use strict";
  const all = (query, from) => Array.from((from || document).querySelectorAll(query));
  const byId = (id) => document.getElementById(id);
  const dataOf = (name) => JSON.parse(byId(name + "-data").textContent);
  const plotOf = (name) => byId("figure-" + name);

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
            { [axis + "axis.title.text"]: column.title, [axis + "axis.type"]: column.type });
        });
      });
    });
  });

  // The bundle of the design behind a point.
  const draw = (name, { bundles, lost }, at) => {
    const row = lost[at] ? null : bundles.rows[at], numbers = { ...bundles.forms[bundles.of[at]] };
    if (row) bundles.names.forEach((key, place) => { numbers[key] = row[place]; });
    byId(name + "-drawn").textContent = window.drawBundle(byId(name + "-bundle"), numbers);
  };

  // The design behind a point: click, slider, or button of its row.
  all("[data-chosen]").forEach((box) => {
    const name = box.dataset.chosen, data = dataOf(name);
    const slider = byId(name + "-slider");
    const cells = all("td:nth-child(2)", byId(name + "-values"));
    const show = () => {
      const at = Number(slider.value);
      byId(name + "-said").textContent = data.said[at];
      byId(name + "-what").textContent = data.lost[at] ? "Conflicting:" : "Active:";
      byId(name + "-active").textContent = data.active[at];
      if (data.bundles) draw(name, data, at);
      slider.setAttribute("aria-valuetext", data.said[at]);
      cells.forEach((cell, place) => { cell.textContent = data.values[at][place]; });
      Object.entries(data.figures).forEach(([figure, one]) => {
        const change = {};
        ["x", "y"].forEach((key) => { if (one[key]) change[key] = [[one[key][at]]]; });
        if (one.trace !== undefined) window.Plotly.restyle(plotOf(figure), change, [one.trace]);
      });
    };
    const choose = (number) => {
      slider.value = number;
      show();
    };
    slider.addEventListener("input", show);
    if (data.bundles) draw(name, data, Number(slider.value));
    Object.keys(data.figures).forEach((figure) => {
      const plot = plotOf(figure);
      const take = (event) => {
        const given = event.points[0].customdata;
        if (given === undefined || given === null) return;
        const number = data.labels.length ? data.labels.indexOf(given) : Number(given);
        if (number >= 0) choose(number);
      };
      plot.on("plotly_click", take);
    });
    all('[data-chooses="' + name + '"]').forEach((button) => {
      button.addEventListener("click", () => {
        choose(button.value);
        slider.focus();
      });
    });
  });

  // Parallel coordinates: a line for each design, lines outside of a range are left out.
  const TOP = 62, FOOT = 354, LISTED = 50;
  const short = (value) => String(Number(value.toPrecision(3))).replace("-", "\u2212");
  all("[data-parallel]").forEach((box) => {
    const name = box.dataset.parallel, svg = byId(name), { axes, groups } = dataOf(name);
    const paths = all("path.line", svg).reverse(), ranges = all(".range", svg);
    const across = all("g", svg).map((group) => group.transform.baseVal[0].matrix.e);
    axes.forEach((axis, place) => {
      axis.span = axis.high - axis.low || 1;
      axis.fields = ["low", "high"].map((end) => byId(`${name}-${end}-${place}`));
    });
    const up = (axis, value) => FOOT - (FOOT - TOP) * (value - axis.low) / axis.span;
    const limits = (axis) => axis.fields.map((field, end) =>
      field.value === "" ? [-Infinity, Infinity][end] : Number(field.value));
    const within = () => {
      const ends = axes.map(limits);
      return [...groups.keys()].filter((row) => axes.every((axis, place) => {
        const value = axis.values[row], [low, high] = ends[place];
        if (value === null) return low === -Infinity && high === Infinity;
        return value >= low && value <= high;
      }));
    };
    const line = (row) => axes.map((axis, place) => {
      const value = axis.values[row];
      if (value === null) return "";
      const begins = place === 0 || axes[place - 1].values[row] === null;
      return `${begins ? "M" : "L"}${across[place]} ${up(axis, value).toFixed(1)}`;
    }).join("");
    const cell = (axis, value) => {
      const made = document.createElement("td");
      const tidy = Math.abs(value) < 1e-6 * axis.span ? 0 : value;
      made.textContent = value === null ? "\u2013" : `${short(tidy)} ${axis.unit}`.trim();
      return made;
    };
    const brush = () => {
      const rows = within();
      paths.forEach((path, group) => path.setAttribute(
        "d", rows.filter((row) => groups[row] === group).map(line).join("")));
      axes.forEach((axis, place) => {
        const [foot, top] = limits(axis).map((value) =>
          up(axis, Math.min(Math.max(value, axis.low), axis.high)));
        const brushed = axis.fields.some((field) => field.value !== "");
        ranges[place].setAttribute("y", top);
        ranges[place].setAttribute("height", brushed ? Math.max(foot - top, 2) : 0);
      });
      byId(name + "-count").textContent = `${rows.length} of ${groups.length} lines within the ` +
        `ranges${rows.length > LISTED ? `, the first ${LISTED} listed below` : ""}`;
      byId(name + "-rows").replaceChildren(...rows.slice(0, LISTED).map((row) => {
        const made = document.createElement("tr");
        made.append(...axes.map((axis) => cell(axis, axis.values[row])));
        return made;
      }));
    };
    const clear = (axis) => axis.fields.forEach((field) => { field.value = ""; });
    all(".grip", svg).forEach((grip, place) => {
      const axis = axes[place];
      let began = null;
      const value = (event) => {
        const box = grip.getBoundingClientRect();
        const share = (box.bottom - event.clientY) / box.height;
        return axis.low + axis.span * Math.min(1, Math.max(0, share));
      };
      grip.addEventListener("pointerdown", (event) => {
        began = value(event);
        grip.setPointerCapture(event.pointerId);
      });
      grip.addEventListener("pointermove", (event) => {
        if (began === null) return;
        const ends = [began, value(event)].sort((a, b) => a - b);
        axis.fields.forEach((field, end) => { field.value = Number(ends[end].toPrecision(4)); });
        brush();
      });
      grip.addEventListener("pointerup", (event) => {
        if (Math.abs(value(event) - began) < 0.01 * axis.span) clear(axis);
        began = null;
        brush();
      });
    });
    axes.flatMap((axis) => axis.fields).forEach((field) => field.addEventListener("input", brush));
    byId(name + "-clear").addEventListener("click", () => {
      axes.forEach(clear);
      brush();
    });
    brush();
  });
})();
