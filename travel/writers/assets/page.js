"use strict";
(function () {
  const data = JSON.parse(document.getElementById("page-data").textContent);
  const map = window[data.groups.map];
  const group = (key) => window[data.groups[key]];
  const root = document.documentElement;
  map.setMinZoom(3);
  map.setMaxZoom(24);
  L.control.scale({ imperial: false, maxWidth: 180 }).addTo(map);

  let fitted = 0;
  const fit = () => {
    map.fitBounds(data.bounds, { animate: false, padding: [44, 44] });
    fitted = map.getZoom();
  };

  function part(tag, text, kind) {
    const element = document.createElement(tag);
    if (kind) element.className = kind;
    if (text) { element.textContent = text; element.dir = "auto"; }
    return element;
  }

  function note(title, rows) {
    const box = part("div");
    box.appendChild(part("strong", title));
    rows.forEach(([label, value]) => {
      const row = part("div", "", "tip-row");
      row.appendChild(part("span", label + ": "));
      row.appendChild(part("bdi", value));
      box.appendChild(row);
    });
    return box;
  }

  Object.entries(data.about).forEach(([name, texts]) => window[name].eachLayer((layer) => {
    const about = texts[layer.feature.id];
    if (about) layer.bindTooltip(() => note(about[0], about[1]), { sticky: true });
  }));

  /* A shape with a tooltip takes the focus: hundreds of stops for the Tab key, none with a name. The lists hold the same. */
  function noStop(layer) {
    const element = layer.getElement && layer.getElement();
    if (element && element.tagName.toLowerCase() === "path") element.setAttribute("tabindex", "-1");
  }
  map.on("layeradd", (event) => noStop(event.layer));
  map.eachLayer(noStop);

  function icon(id, size, turn) {
    const box = part("div", "", "map-mark");
    box.style.width = box.style.height = size + "px";
    const picture = document.getElementById(id);
    if (picture) box.appendChild(picture.content.cloneNode(true));
    if (turn !== undefined) box.firstElementChild.style.transform = "rotate(" + turn + "deg)";
    return L.divIcon({ html: box, className: "", iconSize: [size, size] });
  }

  const at = (lonlat) => L.latLng(lonlat[1], lonlat[0]);

  const heads = data.arrows.map((arrow) => ({ arrow, marker: L.marker(at(arrow.lonlat), {
    icon: icon(arrow.back ? "icon-arrow-back" : "icon-arrow-out", 20, arrow.bearing),
    interactive: false, keyboard: false, zIndexOffset: -500,
  }).addTo(group("arrows")) }));

  /* Out and back are drawn a little right of the centreline in metres; from afar that much is nothing, so they are
     moved on until they lie at least APART pixels from it. */
  const APART = 4.5;
  const ways = Object.entries(data.beside).flatMap(([name, offset]) => window[name].getLayers().map((layer) => ({ layer, offset, drawn: layer.getLatLngs() })));
  const across = (a, b) => { const d = b.subtract(a); const size = Math.hypot(d.x, d.y) || 1; return L.point(-d.y / size, d.x / size); };
  function sidewards(points, pixels) {
    return points.map((p, i) => {
      const before = i > 0 ? across(points[i - 1], p) : null;
      const after = i < points.length - 1 ? across(p, points[i + 1]) : null;
      const both = before && after ? before.add(after).divideBy(2) : before || after;
      const size = Math.max(Math.hypot(both.x, both.y), 0.5);
      return p.add(both.multiplyBy(pixels / (size * size)));
    });
  }
  function spread() {
    const centre = map.getCenter();
    const metres = map.distance(centre, map.layerPointToLatLng(map.latLngToLayerPoint(centre).add([100, 0]))) / 100;
    const more = (offset) => (offset > 0 ? Math.max(0, APART - offset / metres) : 0);
    ways.forEach((way) => {
      const points = sidewards(way.drawn.map((p) => map.latLngToLayerPoint(p)), more(way.offset));
      way.layer.setLatLngs(points.map((p) => map.layerPointToLatLng(p)));
    });
    const offset = Math.max(0, ...Object.values(data.beside));
    heads.forEach(({ arrow, marker }) => {
      const angle = arrow.bearing * Math.PI / 180;
      const side = L.point(Math.cos(angle), Math.sin(angle)).multiplyBy(more(offset));
      marker.setLatLng(map.layerPointToLatLng(map.latLngToLayerPoint(at(arrow.lonlat)).add(side)));
    });
  }

  data.crosses.forEach((lonlat) => L.marker(at(lonlat), {
    icon: L.divIcon({ html: "✕", className: "map-cross", iconSize: [20, 20] }), interactive: false, keyboard: false, zIndexOffset: -400,
  }).addTo(group("arrows")));

  /* Marks that would cover each other are moved aside, with a line to the place they mean. */
  const moved = [];
  const wide = Math.min(340, map.getSize().x - 60);  // a note fits the map of a telephone, its edges and cross in sight
  function mark(kind, item, makeGroup) {
    if (!item.lonlat) return null;
    const shape = icon("icon-" + kind + "-" + item.n, 44);
    const marker = L.marker(at(item.lonlat), { icon: shape, title: item.title, alt: item.title, riseOnHover: true, zIndexOffset: kind === "flag" ? 400 : 200 });
    const card = document.getElementById("card-" + kind + "-" + item.n);
    marker.bindPopup(() => {
      const box = part("div");
      if (card) box.appendChild(card.content.cloneNode(true));
      return box;
    }, { minWidth: Math.min(240, wide), maxWidth: wide, autoPanPadding: [8, 8] });
    marker.on("popupopen", () => here("row-" + kind + "-" + item.n));
    marker.on("add", () => {
      const element = marker.getElement();
      element.setAttribute("aria-label", item.title);
      element.setAttribute("data-map-" + kind, item.n);
    });
    const line = L.polyline([at(item.lonlat), at(item.lonlat)], { color: "#1c1c1c", weight: 1.5, interactive: false });
    line.addTo(makeGroup);
    marker.addTo(makeGroup);
    moved.push({ marker, line, home: at(item.lonlat), shape: shape.options.html, width: 36, height: 36, side: kind === "flag" ? 1 : -1 });
    return marker;
  }

  const marks = { flag: new Map(), stop: new Map() };
  data.flags.forEach((item) => marks.flag.set(item.n, mark("flag", item, group("flags"))));
  data.stops.forEach((item) => marks.stop.set(item.n, mark("stop", item, group("stops"))));

  data.labels.forEach((item) => {
    const home = at(item.lonlat);
    if (item.kind === "place") {
      const dot = part("div", "", "map-dot");
      L.marker(home, { icon: L.divIcon({ html: dot, className: "", iconSize: [44, 44] }), keyboard: false, zIndexOffset: -300 })
        .bindTooltip(() => note(item.title, item.rows)).addTo(group("labels"));
    }
    if (!item.text) return;
    const box = part("div", item.text, "map-label " + item.kind);
    const marker = L.marker(home, { icon: L.divIcon({ html: box, className: "", iconSize: [0, 0] }), interactive: false, keyboard: false });
    const line = L.polyline([home, home], { color: "#55503f", weight: 1, dashArray: "2 2", interactive: false });
    line.addTo(group("labels"));
    marker.addTo(group("labels"));
    moved.push({ marker, line, home, label: box, height: 20, side: -1, far: item.far, kept: item.kind === "reach" });
  });

  const around = [0, 45, -45, 90, -90, 135, -135, 180];
  const meet = (a, b) => a[0] < b[2] && a[2] > b[0] && a[1] < b[3] && a[3] > b[1];
  /* A name that finds no room beside marks and other names is shown closer in; its place tells it meanwhile. A number
     that finds none is a small shape on its place until then. Where there are many, lines to them are kept short. */
  const MANY = 120;
  const reaches = data.flags.length + data.stops.length > MANY ? [34, 56] : [34, 56, 80, 108, 140];
  function name(item, shown) {
    item.label.style.display = shown ? "" : "none";
    item.line.setStyle({ opacity: shown ? 1 : 0 });
  }
  function arrange() {
    spread();
    const taken = [];
    data.trips.forEach((trip) => {
      const every = Math.max(1, Math.floor(trip.lonlat.length / 60));
      trip.lonlat.filter((_, row) => row % every === 0).forEach((lonlat) => {
        const p = map.latLngToLayerPoint(at(lonlat));
        taken.push([p.x - 7, p.y - 7, p.x + 7, p.y + 7, 2]);
      });
    });
    const homes = moved.map((item) => map.latLngToLayerPoint(item.home));
    homes.forEach((p) => taken.push([p.x - 6, p.y - 6, p.x + 6, p.y + 6, 1]));
    const first = map.containerPointToLayerPoint([0, 0]);
    const last = first.add(map.getSize());
    const outside = (box) => (box[0] < first.x || box[1] < first.y || box[2] > last.x || box[3] > last.y ? 5 : 0);
    const close = map.getZoom() > fitted + 0.8;
    moved.forEach((item, row) => {
      if (item.label) name(item, close || !item.far);
      if (item.far && !close) return;
      const width = item.label ? item.label.offsetWidth || 60 : item.width;
      const home = homes[row];
      let best = null;
      for (const reach of reaches) {
        for (const degrees of around) {
          const angle = (degrees + (item.side > 0 ? -60 : 120)) * Math.PI / 180;
          const x = home.x + Math.cos(angle) * (reach + (item.label ? width / 2 - 12 : 0));
          const y = home.y + Math.sin(angle) * reach;
          const box = [x - width / 2, y - item.height / 2, x + width / 2, y + item.height / 2];
          const cost = taken.reduce((sum, other) => sum + (meet(box, other) ? (other[4] || 10) : 0), reach / 200 + outside(box));
          if (best === null || cost < best.cost) best = { cost, x, y, box };
        }
        if (best.cost < 1) break;
      }
      const covers = taken.some((other) => !other[4] && meet(best.box, other));
      if (item.label && !item.kept && covers) return name(item, false);
      if (item.shape) {
        item.shape.classList.toggle("small", covers);
        item.line.setStyle({ opacity: covers ? 0 : 1 });
        item.marker.setZIndexOffset((item.side > 0 ? 400 : 200) + (covers ? 300 : 0));  // small ones lie on top: none is lost
        if (covers) { item.marker.setLatLng(item.home); return; }
      }
      taken.push(best.box);
      const corner = item.label ? L.point(best.box[0], best.box[1]) : L.point(best.x, best.y);
      item.marker.setLatLng(map.layerPointToLatLng(corner));
      item.line.setLatLngs([item.home, map.layerPointToLatLng(L.point(best.x, best.y))]);
    });
  }
  map.on("zoomend viewreset resize", arrange);

  function here(id) {
    document.querySelectorAll(".here").forEach((element) => element.classList.remove("here"));
    const row = document.getElementById(id);
    if (!row) return;
    row.classList.add("here");
    const folded = row.closest("details.together");
    if (folded) folded.open = true;
  }

  let asked = null;
  function show(kind, number) {
    const marker = marks[kind].get(number);
    here("row-" + kind + "-" + number);
    if (!marker) {
      const row = document.getElementById("row-" + kind + "-" + number);
      if (row) row.scrollIntoView({ block: "center" });
      return;
    }
    if (!map.hasLayer(group(kind + "s"))) map.addLayer(group(kind + "s"));
    asked = document.activeElement;
    map.getContainer().scrollIntoView({ block: "nearest" });
    marker.openPopup();
    const box = marker.getPopup().getElement();
    if (box) { box.tabIndex = -1; box.setAttribute("role", "dialog"); box.setAttribute("aria-label", marker.options.title); box.focus({ preventScroll: true }); }
  }
  map.on("popupclose", () => {
    if (asked && asked !== document.body && document.contains(asked)) asked.focus({ preventScroll: true });
    asked = null;
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-flag],[data-stop]");
    if (!button) return;
    if (button.dataset.flag) show("flag", Number(button.dataset.flag));
    else show("stop", Number(button.dataset.stop));
  });

  const turn = { flag: 0, stop: 0 };
  function next(kind) {
    const numbers = [...marks[kind].keys()].sort((a, b) => a - b);
    if (!numbers.length) return;
    show(kind, numbers[turn[kind] % numbers.length]);
    turn[kind] += 1;
  }

  /* The profile's pointer: a slider for keyboard and touch, hovering for the mouse. */
  const pointer = L.circleMarker([0, 0], { radius: 10, color: "#0a3fd0", weight: 4, fillColor: "#ffffff", fillOpacity: 0.6, interactive: false });
  document.querySelectorAll(".profile-box").forEach((figure) => {
    const trip = data.trips.find((item) => item.trip === figure.dataset.trip);
    const slider = figure.querySelector("input");
    const svg = figure.querySelector("svg.profile");
    if (!trip || !trip.lonlat.length) { figure.querySelector(".slide").hidden = true; return; }
    const line = svg.querySelector(".pointer");
    const said = figure.querySelector("output");
    function move(distance) {
      const share = Math.min(1, Math.max(0, distance / trip.length));
      const row = Math.round(share * (trip.lonlat.length - 1));
      pointer.setLatLng(at(trip.lonlat[row]));
      if (!map.hasLayer(pointer)) pointer.addTo(map);
      if (!map.getBounds().contains(pointer.getLatLng())) map.panTo(pointer.getLatLng(), { animate: false });
      const x = 66 + (988 - 66) * share;
      line.setAttribute("x1", x); line.setAttribute("x2", x); line.setAttribute("visibility", "visible");
      said.textContent = trip.said[row];
      slider.setAttribute("aria-valuetext", trip.said[row]);
    }
    const drawn = figure.querySelector(".drawn");
    function slide() {
      move(Number(slider.value));
      drawn.scrollLeft = Number(line.getAttribute("x1")) / 1000 * svg.clientWidth - drawn.clientWidth / 2;
    }
    slider.addEventListener("input", slide);
    slider.addEventListener("focus", slide);
    const hover = (event) => {
      const box = svg.getBoundingClientRect();
      const x = (event.clientX - box.left) / box.width * 1000;
      const distance = Math.min(trip.length, Math.max(0, (x - 66) / (988 - 66) * trip.length));
      slider.value = distance;
      move(distance);
    };
    svg.addEventListener("pointermove", hover);
    svg.addEventListener("pointerdown", hover);
  });

  const help = document.getElementById("help");
  const keys = { f: () => next("flag"), s: () => next("stop"), w: fit, p: () => window.print(), "?": () => help.showModal() };
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || help.open) return;
    if (event.target.matches("input:not([type=range]), select, textarea")) return;
    if (event.key === "Escape") { map.closePopup(); return; }
    if (keys[event.key] && document.getElementById("keys-on").checked) { event.preventDefault(); keys[event.key](); }
  });
  [["tool-flag", "f"], ["tool-stop", "s"], ["tool-fit", "w"], ["tool-print", "p"], ["tool-help", "?"]]
    .forEach(([id, key]) => document.getElementById(id).addEventListener("click", keys[key]));

  /* Paper: laid out at paper size, fitted, then printed; put back afterwards. */
  const paper = document.getElementById("paper");
  const sheet = document.head.appendChild(document.createElement("style"));
  paper.addEventListener("change", () => {
    const large = paper.value === "A3";
    root.classList.toggle("a3", large);
    sheet.textContent = large ? "@page { size: A3 landscape; }" : "";
  });
  let before = null;
  function toPaper() {
    if (before) return;
    before = { centre: map.getCenter(), zoom: map.getZoom(), opened: [] };
    root.classList.add("printing");
    document.querySelectorAll("details:not([open])").forEach((item) => { item.open = true; before.opened.push(item); });
    const box = map.getContainer();
    const top = box.getBoundingClientRect().top + window.scrollY;
    const high = Math.max(300, (root.classList.contains("a3") ? 276 : 189) * 96 / 25.4 - top);
    box.style.height = high + "px";
    const legend = document.querySelector(".legend");
    legend.style.zoom = Math.min(1, high / legend.offsetHeight);
    map.invalidateSize({ animate: false, pan: false });
    fit();
    arrange();
  }
  function toScreen() {
    if (!before) return;
    root.classList.remove("printing");
    map.getContainer().style.height = "";
    document.querySelector(".legend").style.zoom = "";
    before.opened.forEach((item) => { item.open = false; });
    map.invalidateSize({ animate: false, pan: false });
    map.setView(before.centre, before.zoom, { animate: false });
    before = null;
    arrange();
  }
  window.addEventListener("beforeprint", toPaper);
  window.addEventListener("afterprint", toScreen);
  window.matchMedia("print").addEventListener("change", (event) => (event.matches ? toPaper() : toScreen()));

  fit();
  arrange();
  window.travelPage = { map, marks, show, toPaper, toScreen };
}());
