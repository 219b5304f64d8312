(function () {
  "use strict";
  const part = (name) => document.getElementById("fold-front-" + name);
  const data = JSON.parse(part("data").textContent);
  const slider = part("angle"), choice = part("leg");

  const between = (at, places, values) => {
    let i = 1;
    while (i < places.length - 1 && at > places[i]) i += 1;
    if (places.length === 1 || at <= places[0]) return values[0];
    const share = Math.min(1, (at - places[i - 1]) / (places[i] - places[i - 1]));
    return values[i - 1] + share * (values[i] - values[i - 1]);
  };
  const momentsAt = (leg, angle) => {
    const ends = [leg.angles[0], leg.angles[leg.angles.length - 1]];
    if (angle < ends[0] - data.near || angle > ends[1] + data.near) return null;
    const available = leg.available === null ? null : between(angle, leg.angles, leg.available);
    return { required: between(angle, leg.angles, leg.required), available: available };
  };
  const worst = (angle) => {
    let found = null, least = Infinity;
    data.legs.forEach((leg, number) => {
      const one = momentsAt(leg, angle);
      if (one === null) return;
      const resists = one.available !== null && one.required > 0;
      const spare = resists ? one.available / one.required - 1 - leg.wanted : Infinity;
      if (found === null || spare < least) { found = number; least = spare; }
    });
    return found;
  };

  const minus = (text) => text.replace("-", "\u2212");
  const moment = (value) => {
    const size = Math.abs(Number(value.toPrecision(3)));
    const places = size === 0 ? 0 : 2 - Math.floor(Math.log10(size));
    return minus(value.toFixed(Math.max(0, places))) + " N\u00b7m";
  };
  const share = (value) => minus((100 * value).toFixed(1)) + " %";
  const said = (leg, one) => {
    if (one.available === null) {
      const load = one.required > 0 ? "held back by " : "which gives ";
      return leg.name + ": " + leg.driver + ", " + load + moment(Math.abs(one.required)) + ".";
    }
    const text = leg.name + " (" + leg.driver + "): required " + moment(one.required) +
      ", available " + moment(one.available);
    if (one.required <= 0) return text + "; the load assists.";
    const margin = one.available / one.required - 1;
    const words = margin > -1 ? share(margin) : "none, A < 0";
    return text + "; margin " + words + ", " + share(leg.wanted) + " needed.";
  };

  const arrow = (angle, value, sense, radius) => {
    const sweep = sense * data.widest * value / data.largest, turn = Math.sign(sweep);
    if (Math.abs(sweep) < 1) return ["", ""];
    const first = angle * Math.PI / 180, last = (angle + sweep) * Math.PI / 180;
    const neck = last - turn * Math.min(12, radius * Math.abs(last - first)) / radius;
    const at = (a, off) => ((radius + off) * Math.cos(a)).toFixed(2) + " " +
      (-(radius + off) * Math.sin(a)).toFixed(2);
    const flags = (Math.abs(sweep) > 180 ? 1 : 0) + " " + (turn < 0 ? 1 : 0);
    return [
      "M" + at(first, 0) + "A" + radius + " " + radius + " 0 " + flags + " " + at(neck, 0),
      "M" + at(neck, 5) + "L" + at(last, 0) + "L" + at(neck, -5) + "Z",
    ];
  };

  const show = () => {
    const angle = Number(slider.value);
    const degrees = minus(String(angle)) + "\u00b0";
    const number = choice.value === "" ? worst(angle) : Number(choice.value);
    const leg = number === null ? null : data.legs[number];
    const one = leg === null ? null : momentsAt(leg, angle);
    part("panel").setAttribute("transform", "rotate(" + -angle + ")");
    part("degrees").textContent = degrees;
    slider.setAttribute("aria-valuetext", degrees);
    part("said").textContent = one === null ? data.none : said(leg, one);
    ["required", "available"].forEach((name) => {
      const value = one === null ? null : one[name];
      const sense = leg === null ? 0 : name === "required" ? -leg.sense : leg.sense;
      const [arc, head] = value === null ? ["", ""] : arrow(angle, value, sense, data.radii[name]);
      part(name).setAttribute("d", arc);
      part(name + "-head").setAttribute("d", head);
      part(name + "-words").textContent = name + " " + (value === null ? "\u2013" : moment(value));
    });
  };

  slider.addEventListener("input", show);
  choice.addEventListener("change", () => {
    const leg = choice.value === "" ? null : data.legs[Number(choice.value)];
    if (leg !== null) {
      const ends = [leg.angles[0], leg.angles[leg.angles.length - 1]];
      slider.value = Math.min(Math.max(Number(slider.value), ends[0]), ends[1]);
    }
    show();
  });
  show();
})();
