(function () {
  "use strict";
  const byId = (id) => document.getElementById(id);
  const { axes, choices, columns, drawn, neighbours } = JSON.parse(byId("trade-data").textContent);
  const sliders = axes.map((_, at) => byId(`trade-axis-${at}`));
  const FEASIBLE = 1, UNSURE = 0, NONE = -1;
  const WORDS = { [FEASIBLE]: "feasible", [UNSURE]: "unsure", [NONE]: "not feasible" };
  const MARKS = { [FEASIBLE]: "is-good", [UNSURE]: "is-warn", [NONE]: "is-bad" };
  const CURVE = 33, WIDTH = 320, HEIGHT = 44;
  let shown = null;  // fields of the last answer, as lines for the study

  // ---- The surfaces of interpolant.py, at a place of the unit box.

  const typed = (surface) => surface && {
    ...surface,
    centres: Float64Array.from(surface.centres.flat()),
    values: Float64Array.from(surface.values),
    slopes: Float64Array.from(surface.slopes.flat()),
  };
  const moved = (surface, place) => place.map((at, axis) => at * surface.by[axis]);
  const flat = (plane, place) => place.reduce((sum, at, axis) => sum + at * plane[axis + 1], plane[0]);
  const surfaceAt = (surface, box) => {
    const { centres, values, slopes, plane } = surface, size = axes.length;
    const place = moved(surface, box);
    let sum = flat(plane, place);
    for (let point = 0, from = 0; point < values.length; point += 1, from += size) {
      let square = 0, lean = 0;
      for (let axis = 0; axis < size; axis += 1) {
        const apart = place[axis] - centres[from + axis];
        square += apart * apart;
        lean += slopes[from + axis] * apart;
      }
      const far = Math.sqrt(square);
      sum += values[point] * square * far - 3 * far * lean;
    }
    return sum;
  };
  // The same all along one axis: what the others add to a distance stays.
  const surfaceAlong = (surface, box, along) => {
    const { centres, values, slopes, plane, by } = surface, size = axes.length;
    const place = moved(surface, box), step = by[along] / (CURVE - 1), found = new Float64Array(CURVE);
    place[along] = 0;
    found.forEach((_, at) => { found[at] = flat(plane, place) + at * step * plane[along + 1]; });
    for (let point = 0, from = 0; point < values.length; point += 1, from += size) {
      let square = 0, lean = 0;
      for (let axis = 0; axis < size; axis += 1) {
        const apart = axis === along ? 0 : place[axis] - centres[from + axis];
        square += apart * apart;
        lean += slopes[from + axis] * apart;
      }
      for (let at = 0; at < CURVE; at += 1) {
        const apart = at * step - centres[from + along], whole = square + apart * apart;
        const far = Math.sqrt(whole);
        found[at] += far * (values[point] * whole - 3 * (lean + slopes[from + along] * apart));
      }
    }
    return found;
  };
  const distances = (surface, box) => {
    const place = moved(surface, box), found = new Float64Array(surface.values.length);
    for (let point = 0, from = 0; point < found.length; point += 1) {
      for (let axis = 0; axis < axes.length; axis += 1, from += 1) {
        found[point] += (place[axis] - surface.centres[from]) ** 2;
      }
    }
    return found.map(Math.sqrt);
  };
  const nearest = (far) => far.reduce((best, one, at) => one < far[best] ? at : best, 0);
  choices.forEach((choice) => {
    choice.mass = typed(choice.mass);
    choice.edge = typed(choice.edge);
  });

  // ---- What is known at a place.

  const verdictOf = (choice, edge) =>
    edge > choice.band ? NONE : edge < -choice.band ? FEASIBLE : UNSURE;
  // The lightest of the choices that are feasible, else of those that may be.
  const answerAt = (place) => {
    const each = choices.map((choice) => {
      const verdict = !choice.mass ? NONE :
        choice.edge ? verdictOf(choice, surfaceAt(choice.edge, place)) : FEASIBLE;
      return { choice, verdict, mass: verdict === NONE ? NaN : Math.exp(surfaceAt(choice.mass, place)) };
    });
    const verdict = Math.max(...each.map((one) => one.verdict));
    const best = each.filter((one) => one.verdict === verdict)
      .reduce((least, one) => one.mass < least.mass ? one : least);
    return { place, verdict, each, ...best, verdict };
  };
  // Verdict and least mass all along one axis.
  const answersAlong = (along, place) => {
    const best = Array.from({ length: CURVE }, () => ({ verdict: NONE, mass: Infinity }));
    choices.filter((choice) => choice.mass).forEach((choice) => {
      const masses = surfaceAlong(choice.mass, place, along);
      const edges = choice.edge && surfaceAlong(choice.edge, place, along);
      best.forEach((one, at) => {
        const verdict = edges ? verdictOf(choice, edges[at]) : FEASIBLE, mass = Math.exp(masses[at]);
        if (verdict > one.verdict || (verdict === one.verdict && mass < one.mass)) {
          Object.assign(one, { verdict, mass });
        }
      });
    });
    return best;
  };
  const errorAt = (choice, far) => {
    const near = Array.from(far.keys()).sort((one, other) => far[one] - far[other]);
    const used = near.slice(0, neighbours);
    const apart = used.reduce((sum, point) => sum + choice.apart[point], 0) / used.length;
    const beyond = Math.max(1, far[near[0]] / apart);
    return Math.max(...used.map((point) => choice.errors[point])) * beyond ** 2;
  };
  const columnsAt = (choice, box, far) => {
    const cubes = far.map((one) => one ** 3), place = moved(choice.mass, box);
    return choice.columns.map((column) => {
      if (!column) return NaN;
      let sum = flat(column.plane, place);
      column.values.forEach((weight, point) => { sum += weight * cubes[point]; });
      return column.log ? Math.exp(sum) : Math.max(sum, 0);
    });
  };

  // ---- Words.

  const figure = (value) => {
    if (!Number.isFinite(value)) return "\u2013";
    const rounded = Number(value.toPrecision(3)), size = Math.abs(rounded);
    const places = size === 0 ? 0 : Math.max(0, 2 - Math.floor(Math.log10(size)));
    return rounded.toFixed(Math.min(places, 6)).replace("-", "\u2212");
  };
  const withUnit = (value, of) =>
    Number.isFinite(value) ? `${figure(of.factor * value + of.offset)} ${of.unit}`.trim() : "\u2013";
  const axisWords = (axis, share) => {
    const value = axis.from + share * (axis.to - axis.from);
    return `${value.toFixed(axis.places).replace("-", "\u2212")} ${axis.unit}`.trim();
  };
  const massWords = (mass) => `${figure(mass)} kg`;
  const percent = (share) => share < 5e-4 ? "< 0.1 %" : `${(100 * share).toFixed(share < 0.0995 ? 1 : 0)} %`;

  // ---- Lines for the study.

  const valueOf = (field, share, axis) => {
    const along = axis.low > 0 && field.power
      ? field.low * (field.high / field.low) **
        (Math.log((axis.low + share * (axis.high - axis.low)) / axis.low) / Math.log(axis.high / axis.low))
      : field.low + share * (field.high - field.low);
    const text = String(Number(along.toPrecision(6)));
    return field.unit === "1" ? text : JSON.stringify(`${text} ${field.unit}`);
  };
  const linesAt = (place, choice) => {
    const heads = new Map();
    axes.forEach((axis, at) => axis.fields.forEach((field) => {
      if (!heads.has(field.head)) heads.set(field.head, []);
      heads.get(field.head).push(`${field.key} = ${valueOf(field, place[at], axis)}`);
    }));
    if (choice && choice.lines) heads.set("[actuator]", choice.lines.split("\n"));
    return [...heads].map(([head, lines]) => [head, ...lines].join("\n")).join("\n\n") + "\n";
  };

  // ---- The curve of the mass along each axis, with what is not feasible hatched.

  const masses = choices.flatMap((choice) => choice.range || []);
  const low = Math.log(Math.min(...masses)), high = Math.log(Math.max(...masses));
  const up = (mass) => {
    const share = (Math.log(mass) - low) / (high - low || 1);
    return (HEIGHT - 3 - (HEIGHT - 6) * Math.min(1, Math.max(0, share))).toFixed(1);
  };
  const curve = (at, place) => {
    const answers = answersAlong(at, place);
    const across = (point) => (WIDTH * point / (CURVE - 1)).toFixed(1);
    let line = "";
    const areas = { [UNSURE]: "", [NONE]: "" };
    answers.forEach(({ verdict, mass }, point) => {
      const begins = point === 0 || answers[point - 1].verdict === NONE;
      if (verdict !== NONE) line += `${begins ? "M" : "L"}${across(point)} ${up(mass)}`;
      if (verdict !== FEASIBLE) {
        const [from, to] = [Math.max(0, point - 0.5), Math.min(CURVE - 1, point + 0.5)].map(across);
        areas[verdict] += `M${from} 0H${to}V${HEIGHT}H${from}Z`;
      }
    });
    const part = (name) => byId(`trade-${name}-${at}`);
    part("line").setAttribute("d", line);
    part("unsure").setAttribute("d", areas[UNSURE]);
    part("none").setAttribute("d", areas[NONE]);
    const here = WIDTH * place[at];
    part("here").setAttribute("d", `M${here.toFixed(1)} 0V${HEIGHT}`);
    const known = answers.filter((one) => one.verdict !== NONE).map((one) => one.mass);
    const sure = answers.filter((one) => one.verdict === FEASIBLE).length;
    part("curve").setAttribute("aria-label", known.length
      ? `Mass along ${axes[at].title}: ${massWords(Math.min(...known))} to ${massWords(Math.max(...known))}, ` +
        `feasible over ${percent(sure / CURVE)} of the range` : `Nothing feasible along ${axes[at].title}`);
  };

  // ---- The page.

  const list = (id, items) => byId(id).replaceChildren(...items.map((text) => {
    const made = document.createElement("li");
    made.textContent = text;
    return made;
  }));
  const rowOf = (choice) => byId(`trade-choice-${choices.indexOf(choice)}`);
  const showChoices = ({ each, choice, verdict }) => each.forEach((one) => {
    const row = rowOf(one.choice), best = one.choice === choice && verdict !== NONE;
    row.classList.toggle("sum", best);
    row.cells[1].textContent = one.verdict === NONE ? "\u2013" : massWords(one.mass);
    row.cells[2].textContent = best ? `${WORDS[one.verdict]}, lightest` : WORDS[one.verdict];
  });
  // The first points of an edge are those that have no design.
  const reasonAt = (place) => {
    const found = choices.filter((choice) => choice.edge).map((choice) => {
      const far = distances(choice.edge, place).slice(0, choice.lost.length), at = nearest(far);
      return { far: far[at], text: choice.texts[choice.lost[at]] };
    });
    return found.length ? found.reduce((best, one) => one.far < best.far ? one : best).text : "";
  };

  const showDesign = ({ choice, place, verdict, mass }) => {
    const far = distances(choice.mass, place), error = errorAt(choice, far);
    const values = columnsAt(choice, place, far);
    columns.forEach((column, at) => {
      byId(`trade-column-${at}`).textContent = withUnit(values[at], column);
    });
    byId("trade-mass").textContent = massWords(mass);
    byId("trade-error").textContent = `\u00b1 ${percent(error)}`;
    const active = choice.texts[choice.active[nearest(far)]];
    list("trade-active", (active || "nothing").split("; "));
    const numbers = { ...choice.form };
    Object.entries(drawn).forEach(([name, column]) => { numbers[name] = column === null ? 0 : values[column]; });
    byId("trade-drawn").textContent = window.drawBundle(byId("trade-bundle"), numbers);
    const head = verdict === FEASIBLE ? "Feasible" : "Unsure: too near the edge to tell";
    return choice.words ? `${head}; lightest: ${choice.words}` : head;
  };
  const showNothing = (place) => {
    columns.forEach((_, at) => { byId(`trade-column-${at}`).textContent = "\u2013"; });
    byId("trade-mass").textContent = "\u2013";
    byId("trade-error").textContent = "";
    list("trade-active", (reasonAt(place) || "not known").split("; "));
    byId("trade-drawn").textContent = "No design to draw.";
    byId("trade-bundle").replaceChildren();
    return "No feasible design";
  };
  const show = () => {
    const place = sliders.map((slider) => slider.value / slider.max);
    sliders.forEach((slider, at) => {
      const text = axisWords(axes[at], place[at]);
      byId(`trade-value-${at}`).textContent = text;
      slider.setAttribute("aria-valuetext", text);
    });
    const answer = answerAt(place), none = answer.verdict === NONE;
    byId("trade-head").textContent = none ? showNothing(place) : showDesign(answer);
    byId("trade-why").textContent = none
      ? "Conflicting requirements, at the nearest point of the map that has no design"
      : "Active requirements, at the nearest optimum of the map";
    byId("trade-verdict").className = `verdict ${MARKS[answer.verdict]}`;
    showChoices(answer);
    axes.forEach((_, at) => curve(at, place));
    shown = linesAt(place, none ? null : answer.choice);
    byId("trade-lines").textContent = shown;
    byId("trade-copied").textContent = "";
  };
  sliders.forEach((slider) => slider.addEventListener("input", show));
  byId("trade-reset").addEventListener("click", () => {
    sliders.forEach((slider, at) => { slider.value = axes[at].start; });
    show();
  });
  byId("trade-copy").addEventListener("click", () => {
    const lines = byId("trade-lines");
    lines.closest("details").open = true;
    window.getSelection().selectAllChildren(lines);
    const said = (text) => { byId("trade-copied").textContent = text; };
    const selected = () => said("The lines are selected: copy them from here.");
    if (navigator.clipboard) {
      navigator.clipboard.writeText(shown).then(() => said("Copied."), selected);
    } else selected();
  });
  show();
})();
