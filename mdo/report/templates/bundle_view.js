// The tubes of one wing cut across, to scale, from a few numbers of a design. Lengths in metres.
// Simpler than the drawing of a report: tubes beside the ring stand in columns.
window.drawBundle = (function () {
  "use strict";
  const WIDE = 300, TALL = 150, SPACING = 1.1, GAP = 0.15, MOST = 120, LETTERS = ["U", "D"];
  const NAMES = ["up", "down"], KINDS = ["up", "down"];

  // Pinions by the height of the bundle: wheel, two pinions, and what is outermost on them.
  const pinionOf = (b, dressed) => {
    const alone = b.height / (b.ratio + 2);
    return alone >= dressed ? alone : Math.max((b.height - dressed) / (b.ratio + 1), dressed);
  };
  const around = (count, radius) => Array.from({ length: count }, (_, at) => {
    const angle = Math.PI / 2 + 2 * Math.PI * at / count;
    return [radius * Math.cos(angle), radius * Math.sin(angle)];
  });
  const geared = (b, count, dressed) => {
    const pinion = pinionOf(b, dressed), ring = pinion * (b.ratio + 1) / 2;
    const room = Math.PI * (1 + b.ratio) / SPACING;
    const modules = Math.max(1, Math.round(count / (room * b.lanes)));
    const own = Math.ceil(count / modules), first = Math.min(own, Math.max(1, Math.floor(room + 1e-3)));
    const pitch = Math.max(SPACING * pinion, dressed * (1 + GAP)), places = around(first, ring);
    const rows = 1 + Math.floor(2 * ring / pitch);
    for (let column = 0; places.length < own; column += 1) {
      const x = (ring + pitch * (1 + Math.floor(column / 2))) * (column % 2 ? 1 : -1);
      const left = Math.min(rows, own - places.length);
      for (let row = 0; row < left; row += 1) places.push([x, pitch * ((left - 1) / 2 - row)]);
    }
    return { places, rings: [[pinion * b.ratio / 2, "metal"]], pinion: pinion / 2, modules };
  };
  const plated = (b, count, dressed) => {
    const pitch = dressed * (1 + GAP), reach = Math.ceil(Math.sqrt(count)) + 1, places = [];
    for (let row = -reach; row <= reach; row += 1) {
      for (let at = -reach; at <= reach; at += 1) {
        places.push([pitch * (at + (row & 1) / 2), pitch * row * Math.sqrt(3) / 2]);
      }
    }
    places.sort((one, other) => Math.hypot(...one) - Math.hypot(...other));
    return { places: places.slice(0, count), rings: [[b.height / 2, "metal"]], modules: 1 };
  };
  const PLACED = {
    geared, plated,
    nested: (b, count) => ({ places: Array(count).fill([0, 0]), rings: [], modules: 1, nested: true }),
    knuckle: (b, count) => ({ places: [[0, 0]], rings: [[b.height / 2, "metal"]], modules: count }),
  };

  const circle = (x, y, r, kind) =>
    `<circle cx="${x.toFixed(1)}" cy="${y.toFixed(1)}" r="${Math.max(r, 0).toFixed(2)}" class="${kind}"/>`;
  const millimetres = (value) => `${Number((1000 * value).toPrecision(3))} mm`;

  return (svg, b) => {
    const counts = [b.up, b.down].map((count) => Math.min(MOST, Math.ceil((count || 0) - 0.01)));
    const total = counts[0] + counts[1];
    if (!total || !(b.radius > 0)) {
      svg.innerHTML = "";
      svg.removeAttribute("viewBox");
      svg.setAttribute("aria-label", "No design to draw.");
      return "No design to draw.";
    }
    const dressed = 2 * (b.radius + b.sleeve), wall = b.radius * b.wall;
    const { places, rings, pinion, modules, nested } = PLACED[b.topology](b, total, dressed);
    const outer = nested ? b.radius + (total - 1) / 2 * wall * 1.1 : b.radius;
    const half = Math.max(b.height / 2, ...places.map(([x]) => Math.abs(x) + Math.max(outer, b.radius + b.sleeve)));
    const scale = Math.min(WIDE / (2 * half), TALL / Math.max(b.height, 2 * outer));
    const x0 = WIDE / 2, y0 = TALL / 2;
    const parts = rings.map(([radius, kind]) => circle(x0, y0, scale * radius, kind));
    const share = counts[0] / total;
    places.forEach(([x, y], at) => {  // the sets as evenly mixed as their counts allow
      const set = Math.floor((at + 1) * share + 0.5) > Math.floor(at * share + 0.5) ? 0 : 1;
      const radius = nested ? outer - at * wall * 1.1 : b.radius;
      const [px, py] = [x0 + scale * x, y0 - scale * y];
      if (pinion) parts.push(circle(px, py, scale * pinion, "thin dashed"));
      if (!nested) parts.push(circle(px, py, scale * (radius + b.sleeve), "paper thin"));
      parts.push(circle(px, py, scale * radius, KINDS[set]));
      parts.push(circle(px, py, scale * (radius - wall), `paper ${KINDS[set]}-edge`));
      const size = Math.min(14, scale * radius * 1.1);
      const [lx, ly] = nested ? [px, py - scale * (radius - wall / 2)] : [px, py];
      if (size > 4) {
        parts.push(`<text x="${lx.toFixed(1)}" y="${(ly + 0.36 * size).toFixed(1)}" font-size="${size.toFixed(1)}" text-anchor="middle">${LETTERS[set]}</text>`);
      }
    });
    svg.setAttribute("viewBox", `-2 -2 ${WIDE + 4} ${TALL + 4}`);
    svg.innerHTML = parts.join("");
    const sets = counts.map((count, set) => count ? `${count} ${NAMES[set]} (${LETTERS[set]})` : "")
      .filter(Boolean).join(", ");
    const more = modules > 1 ? `; the first of ${modules} modules is drawn` : "";
    const said = `Tubes: ${sets}; outer diameter ${millimetres(2 * b.radius)}, wall ` +
      `${millimetres(wall)}, bundle ${millimetres(b.length)} long and ${millimetres(b.height)} high${more}.`;
    svg.setAttribute("aria-label", said);
    return said;
  };
})();
