// Values of a chart by pointer or by arrow keys, said in the figure's <output>. Chart and table say the same without it.
const ns = "http://www.w3.org/2000/svg";
document.querySelectorAll("svg[data-chart]").forEach((svg) => {
  const points = [...svg.querySelectorAll(".at")];
  const say = svg.parentElement.querySelector("output");
  if (!points.length || !say) return;
  const across = points.map((point) => Number(point.getAttribute("cx")));
  const ring = document.createElementNS(ns, "circle");
  Object.entries({ r: 6, class: "cursor", fill: "none", visibility: "hidden" }).forEach(([name, value]) => ring.setAttribute(name, value));
  svg.append(ring);
  svg.setAttribute("tabindex", "0");
  say.textContent = "Point, or use arrow keys, to read values.";
  let now = -1;
  const show = (wanted) => {
    now = Math.max(0, Math.min(points.length - 1, wanted));
    ["cx", "cy"].forEach((name) => ring.setAttribute(name, points[now].getAttribute(name)));
    ring.setAttribute("visibility", "visible");
    say.textContent = points[now].dataset.say;
  };
  svg.addEventListener("pointermove", (event) => {
    const box = svg.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * svg.viewBox.baseVal.width;
    show(across.reduce((best, value, i) => (Math.abs(value - x) < Math.abs(across[best] - x) ? i : best), 0));
  });
  svg.addEventListener("keydown", (event) => {
    const to = { ArrowRight: now + 1, ArrowLeft: now - 1, Home: 0, End: points.length - 1 }[event.key];
    if (to === undefined) return;
    show(to);
    event.preventDefault();
  });
});
