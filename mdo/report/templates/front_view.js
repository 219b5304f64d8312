(function () {
  "use strict";
  const NEAR = 0.5;  // [deg] within which an angle counts as one that a leg passes
  const WIDEST = 130;  // [deg] of the arrow of the largest moment
  const part = (name) => document.getElementById("fold-front-" + name);
  const { legs, largest, radii } = JSON.parse(part("data").textContent);
  const slider = part("angle"), choice = part("leg");
  const ends = (leg) => [leg.angles[0], leg.angles[leg.angles.length - 1]];

  // Moments of a leg at an angle, linear between those of the table; null outside of it.
  const momentsAt = (leg, angle) => {
    const [first, last] = ends(leg), places = leg.angles;
    if (angle < first - NEAR || angle > last + NEAR) return null;
    const after = Math.max(1, places.findIndex((place) => place >= angle));
    const share = places.length === 1 || angle <= first ? 0
      : angle >= last ? 1 : (angle - places[after - 1]) / (places[after] - places[after - 1]);
    const at = angle >= last ? places.length - 1 : after;
    const between = (values) => places.length === 1 ? values[0]
      : values[at - 1] + share * (values[at] - values[at - 1]);
    return { required: between(leg.required), available: leg.available && between(leg.available) };
  };
  const spare = (leg, { required, available }) =>
    available === null || required <= 0 ? Infinity : available / required - 1 - leg.wanted;
  const worst = (angle) => legs
    .map((leg) => ({ leg, moments: momentsAt(leg, angle) }))
    .filter(({ moments }) => moments !== null)
    .reduce((least, next) => least === null ||
      spare(next.leg, next.moments) < spare(least.leg, least.moments) ? next : least, null);

  const minus = (text) => text.replace("-", "\u2212");
  const moment = (value) => {
    const size = Math.abs(Number(value.toPrecision(3)));
    const places = size === 0 ? 0 : 2 - Math.floor(Math.log10(size));
    return minus(value.toFixed(Math.max(0, places))) + " N\u00b7m";
  };
  const share = (value) => minus((100 * value).toFixed(1)) + " %";
  const said = (leg, { required, available }) => {
    if (available === null) {
      const load = required > 0 ? "held back by" : "which gives";
      return `${leg.name}: ${leg.driver}, ${load} ${moment(Math.abs(required))}.`;
    }
    const text = `${leg.name} (${leg.driver}): required ${moment(required)}, ` +
      `available ${moment(available)}`;
    if (required <= 0) return text + "; the load assists.";
    const margin = available / required - 1;
    return `${text}; margin ${margin > -1 ? share(margin) : "none, A < 0"}, ` +
      `${share(leg.wanted)} needed.`;
  };

  // Arc and head of a moment about the hinge, its length by the moment, from the panel onwards.
  const arrow = (angle, value, radius) => {
    const sweep = WIDEST * value / largest, turn = Math.sign(sweep);
    if (Math.abs(sweep) < 1) return ["", ""];
    const [first, last] = [angle, angle + sweep].map((degrees) => degrees * Math.PI / 180);
    const neck = last - turn * Math.min(12, radius * Math.abs(last - first)) / radius;
    const at = (a, off) => [Math.cos(a), -Math.sin(a)].map((to) => ((radius + off) * to).toFixed(2))
      .join(" ");
    const flags = `${Number(Math.abs(sweep) > 180)} ${Number(turn < 0)}`;
    return [`M${at(first, 0)}A${radius} ${radius} 0 ${flags} ${at(neck, 0)}`,
      `M${at(neck, 5)}L${at(last, 0)}L${at(neck, -5)}Z`];
  };

  const show = () => {
    const angle = Number(slider.value), degrees = minus(angle + "\u00b0");
    const leg = choice.value === "" ? worst(angle)?.leg : legs[choice.value];
    const moments = leg && momentsAt(leg, angle);
    part("panel").setAttribute("transform", `rotate(${-angle})`);
    part("degrees").textContent = degrees;
    slider.setAttribute("aria-valuetext", degrees);
    part("said").textContent = moments ? said(leg, moments) : "This leg does not pass this angle.";
    ["required", "available"].forEach((name) => {
      const value = moments ? moments[name] : null;
      const sense = leg && name === "required" ? -leg.sense : leg?.sense;
      const [arc, head] = value === null ? ["", ""] : arrow(angle, sense * value, radii[name]);
      part(name).setAttribute("d", arc);
      part(name + "-head").setAttribute("d", head);
      part(name + "-words").textContent = `${name} ${value === null ? "\u2013" : moment(value)}`;
    });
  };

  slider.addEventListener("input", show);
  choice.addEventListener("change", () => {
    if (choice.value !== "") {
      const [low, high] = ends(legs[choice.value]);
      slider.value = Math.min(Math.max(Number(slider.value), low), high);
    }
    show();
  });
  show();
})();
