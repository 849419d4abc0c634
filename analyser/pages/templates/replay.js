// Replay of the flown holds. The page reads completely without it; nothing here asks for anything outside the page.
(() => {
  const SVG = "http://www.w3.org/2000/svg";
  const FEET = 0.3048;
  const NEAR_PX = 34;
  const data = JSON.parse(document.getElementById("replay-data").textContent);
  const calm = window.matchMedia("(prefers-reduced-motion: reduce)");
  const isOn = (id) => document.getElementById(id)?.checked === true;
  const make = (name, attributes) => {
    const element = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    return element;
  };
  const minus = (text) => text.replace("-", "−");
  const minutes = (s) => {
    const whole = Math.round(Math.abs(s));
    const sign = s < -0.5 ? "−" : "";
    return `${sign}${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
  };

  // A series comes as whole numbers in its last decimal, differenced so often that they are small, each written in
  // the characters of data.code: 0, -1, 1, -2 ... as 0, 1, 2, 3 ..., more digits to come where one is of its second half.
  const base = data.code.length / 2;
  const unpacked = ([decimals, order, length, text]) => {
    const values = [];
    let value = 0, times = 1;
    for (const character of text) {
      const digit = data.code.indexOf(character);
      value += (digit % base) * times;
      times *= base;
      if (digit >= base) continue;
      values.push(digit < 0 ? null : value % 2 ? -(value + 1) / 2 : value / 2);
      [value, times] = [0, 1];
    }
    while (values.length < length) values.push(0);
    for (let done = 0; done < order; done++) for (let i = 1; i < length; i++) values[i] += values[i - 1];
    return values.map((one) => (one === null ? null : one / 10 ** decimals));
  };

  class Replay {
    constructor(section, hold) {
      this.section = section;
      this.box = section.querySelector("[data-replay]");
      this.hold = hold;
      const columns = Object.fromEntries(Object.entries(hold.columns).map(([name, column]) => [name, unpacked(column)]));
      this.c = { ...columns, ...this.derived(columns, (hold.course * Math.PI) / 180) };
      this.time = hold.start;
      // The maps show the circuit that the first finding speaks of, until the replay moves or another is chosen.
      this.circuit = hold.shown || 0;
      this.chosen = false;
      this.other = 0;
      this.hiddenPhases = new Set();
      this.playing = false;
      this.readouts = Object.fromEntries([...this.box.querySelectorAll("[data-read]")].map((e) => [e.dataset.read, e.appendChild(new Text(""))]));
      this.slider = this.box.querySelector("[data-time]");
      this.playButton = this.box.querySelector("[data-play]");
      this.pace = this.box.querySelector("[data-pace]");
      this.said = {};
      this.speed = this.c.ias.every((value) => value === null) ? "tas" : "ias";
      this.views = this.findViews();
      this.bind();
      this.refresh();
    }

    // What follows from the columns: the flight as the air saw it, and along and across the inbound course.
    derived(c, course) {
      const sin = Math.sin(course), cos = Math.cos(course);
      return {
        ae: c.e.map((e, i) => e + c.fe[i]),
        an: c.n.map((n, i) => n + c.fn[i]),
        along: c.e.map((e, i) => e * sin + c.n[i] * cos),
        cross: c.e.map((e, i) => e * cos - c.n[i] * sin),
      };
    }

    // --- the drawings that carry a cursor -------------------------------------------------------------------
    findViews() {
      const views = [];
      for (const svg of this.box.querySelectorAll("svg[data-fig]")) {
        const kind = svg.dataset.fig;
        const name = kind === "strip" ? `strip-${svg.dataset.key}` : kind === "ribbon" ? "strip-ribbon" : kind;
        const map = this.hold.maps[name];
        if (map) views.push(kind === "plan" || kind === "air" ? this.mapView(svg, kind, map) : this.stripView(svg, kind, map));
      }
      return views;
    }

    // Cursors lie in a drawing of their own over the other, which so need not be painted again.
    over(svg, kind, attributes) {
      const over = make("svg", { class: "over", "data-over": kind, "aria-hidden": "true", ...attributes });
      let box = svg.closest(".zoomable");
      if (!box) {
        box = document.createElement("div");
        box.className = "under";
        svg.replaceWith(box);
        box.append(svg);
      }
      svg.after(over);
      return over;
    }

    mapView(svg, kind, map) {
      const over = this.over(svg, kind, { viewBox: `0 0 ${map.w} ${map.h}` });
      const cursor = make("g", { class: "cursor" });
      const second = make("g", { class: "cursor second" });
      const shape = { d: "M0-11L7.5 9L0 4.6L-7.5 9Z" };
      second.append(make("path", shape));
      cursor.append(make("path", shape));
      const view = { svg, over, kind, map, cursor, second, zoom: 1, fold: svg.closest("details.lines") };
      if (kind === "air") {
        view.fix = make("path", { class: "cursor-fix", d: "M0-8L7 4.5L-7 4.5Z" });
        over.append(view.fix);
      }
      over.append(second, cursor);
      return view;
    }

    stripView(svg, kind, map) {
      const over = this.over(svg, kind, {});
      const line = make("line", { class: "cursor-line", y1: "0", y2: "100%" });
      const dot = make("circle", { class: "cursor-dot", r: "4.5" });
      if (kind !== "side") over.append(line);
      if (kind !== "ribbon") over.append(dot);
      const overlay = make("path", { class: "overlay", d: "" });
      svg.querySelector(".stretched").append(overlay);
      const column = { altitude: "alt", speed: this.speed, bank: "bank", cross: "cross" }[svg.dataset.key];
      return { svg, over, kind, map, line, dot, overlay, column, fold: svg.closest("details.lines") };
    }

    // --- reading the series ---------------------------------------------------------------------------------
    at(time) {
      const t = this.c.t;
      let low = 0, high = t.length - 1;
      while (high - low > 1) {
        const middle = (low + high) >> 1;
        if (t[middle] <= time) low = middle; else high = middle;
      }
      return [low, Math.min(1, Math.max(0, (time - t[low]) / Math.max(1e-9, t[high] - t[low]))), high];
    }

    read(name, place) {
      const [low, share, high] = place;
      const a = this.c[name][low], b = this.c[name][high];
      if (a === null || b === null) return null;
      const step = name === "hdg" ? ((b - a + 540) % 360) - 180 : b - a;
      return a + share * step;
    }

    span(time) {
      let found = this.hold.spans[0];
      for (const span of this.hold.spans) if (span[2] <= time) found = span;
      return found;
    }

    circuitTimes(number) {
      const own = this.hold.spans.filter((span) => span[1] === number);
      return own.length ? [own[0][2], own[own.length - 1][3]] : this.hold.window;
    }

    // --- showing one instant everywhere ---------------------------------------------------------------------
    show(time) {
      const [from, to] = this.range;
      this.time = Math.min(to, Math.max(from, time));
      const place = this.at(this.time);
      for (const view of this.views) {
        if (view.fold && !view.fold.open) continue;
        if (view.kind === "plan" || view.kind === "air") this.showOnMap(view, place);
        else this.showOnStrip(view, place);
      }
      this.tell(place);
      this.box.dataset.now = this.time.toFixed(1);
    }

    showOnMap(view, place) {
      this.put(view, view.cursor, place);
      const twin = this.twinTime();
      view.second.style.display = twin === null ? "none" : "";
      if (twin !== null) this.put(view, view.second, this.at(twin));
      if (view.fix) this.move(view, view.fix, this.read("fe", place), this.read("fn", place), 0);
    }

    put(view, mark, place) {
      const [e, n] = view.kind === "air" ? ["ae", "an"] : ["e", "n"];
      this.move(view, mark, this.read(e, place), this.read(n, place), this.read("hdg", place));
    }

    move(view, mark, east, north, turn) {
      const x = view.map.ox + view.map.kx * east, y = view.map.oy + view.map.ky * north;
      const size = this.unitsPerPixel(view);
      mark.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)}) rotate(${turn.toFixed(1)}) scale(${size.toFixed(3)})`);
    }

    unitsPerPixel(view) {
      // Asking for a width makes the browser lay the page out: it is asked once, and when the window changes.
      view.width ||= view.svg.clientWidth;
      return view.map.w / view.zoom / (view.width || view.map.w);
    }

    showOnStrip(view, place) {
      const { map } = view;
      const x = view.kind === "side" ? this.read("along", place) : this.time;
      const value = view.kind === "side" ? this.read("alt", place) : view.column ? this.read(view.column, place) : null;
      const px = `${((100 * (map.ox + map.kx * x)) / map.w).toFixed(3)}%`;
      view.line.setAttribute("x1", px);
      view.line.setAttribute("x2", px);
      view.dot.style.display = value === null ? "none" : "";
      if (value !== null) {
        view.dot.setAttribute("cx", px);
        view.dot.setAttribute("cy", `${((100 * (map.oy + map.ky * value)) / map.h).toFixed(3)}%`);
      }
    }

    twinTime() {
      if (!this.other || !this.circuit || this.other === this.circuit) return null;
      const [start] = this.circuitTimes(this.circuit), [from, to] = this.circuitTimes(this.other);
      return Math.min(to, from + this.time - start);
    }

    tell(place) {
      // The text of one node is changed: a new node would have every style worked out anew that asks what the page holds.
      const say = (name, text) => { if (this.said[name] !== text) this.readouts[name].data = this.said[name] = text; };
      const value = (name, unit, scale = 1, decimals = 0) => {
        const found = this.read(name, place);
        return found === null ? "not known" : minus(Number((found * scale).toFixed(decimals)).toLocaleString("en")) + unit;
      };
      const [phase, circuit, , , clock] = this.span(this.time);
      const [words, counts] = data.phases[phase];
      const metric = isOn("show-m");
      const now = minutes(this.time - this.hold.start);
      if (this.said.time !== now) {
        this.slider.value = String(Math.round(this.time));
        this.slider.setAttribute("aria-valuetext", `${now}, ${circuit ? `circuit ${circuit}, ` : ""}${words}`);
      }
      say("time", now);
      say("clock-name", circuit ? `circuit ${circuit}, ${counts}` : counts);
      const untimed = this.hold.seams.some((seam) => clock <= seam && seam <= this.time);
      say("clock", untimed ? "not timed" : minutes(circuit ? Math.max(0, this.time - clock) : this.time - clock));
      say("alt", metric ? value("alt", " m", FEET) : value("alt", " ft"));
      say("speed", `${value("ias", "")} / ${value("tas", "")} kt`);
      say("gs", value("gs", " kt"));
      say("hdg", this.direction(this.read("hdg", place)));
      const bank = this.read("bank", place);
      say("bank", bank === null ? "not known" : `${Math.abs(bank).toFixed(0)}° ${bank >= 0.5 ? "right" : bank <= -0.5 ? "left" : ""}`);
      const east = this.read("e", place), north = this.read("n", place);
      const bearing = (Math.atan2(-east, -north) * 180) / Math.PI;
      say("fix", `${Math.hypot(east, north).toFixed(2)} NM, ${this.direction(bearing)}`);
      const cross = this.read("cross", place);
      say("cross", `${Math.abs(cross).toFixed(2)} NM ${cross >= 0 ? "right" : "left"}`);
    }

    direction(degrees) {
      const magnetic = this.hold.variation !== null && !isOn("show-tru");
      const shown = degrees - (magnetic ? this.hold.variation : 0);
      const whole = ((Math.round(shown) % 360) + 360) % 360;
      return `${String(whole || 360).padStart(3, "0")}°${magnetic ? "M" : "T"}`;
    }

    // --- what is shown of the hold --------------------------------------------------------------------------
    setRange() {
      this.range = this.circuit && this.chosen ? this.circuitTimes(this.circuit) : this.hold.window;
      this.slider.min = String(Math.floor(this.range[0]));
      this.slider.max = String(Math.ceil(this.range[1]));
    }

    refresh() {
      for (const part of this.box.querySelectorAll("svg [data-circuit]")) {
        const number = Number(part.dataset.circuit);
        const onMap = this.chosen || part.closest('[data-fig="plan"]');
        const chosen = number === this.circuit || (number && number === this.other) || (!number && part.closest('[data-layer="other"]'));
        part.classList.toggle("away", Boolean(this.circuit && onMap && !chosen));
        part.classList.toggle("as-other", Boolean(this.circuit && number === this.other && number !== this.circuit));
      }
      for (const part of this.box.querySelectorAll("svg [data-phase]")) part.classList.toggle("away", this.hiddenPhases.has(part.dataset.phase));
      for (const view of this.views) if (view.overlay) view.overlay.setAttribute("d", this.overlayPath(view));
      this.setRange();
      this.show(this.time);
    }

    overlayPath(view) {
      // The other circuit's line, shifted in time so that both leave the fix together.
      if (!view.column || !this.other || !this.circuit || this.other === this.circuit) return "";
      const [start] = this.circuitTimes(this.circuit), [from, to] = this.circuitTimes(this.other);
      const values = this.c[view.column];
      const { map } = view;
      let path = "";
      this.c.t.forEach((t, i) => {
        if (t < from || t > to || values[i] === null) return;
        const x = map.ox + map.kx * (t - from + start), y = map.oy + map.ky * values[i];
        path += `${path ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`;
      });
      return path;
    }

    // Whoever moves the time sees the whole flight, unless a circuit was chosen.
    moveTo(time) {
      if (this.circuit && !this.chosen) {
        this.circuit = 0;
        this.section.querySelector('[data-choose="circuit"]').value = "";
        this.refresh();
      }
      this.show(time);
    }

    // --- hands ----------------------------------------------------------------------------------------------
    bind() {
      const on = (selector, event, act) => { for (const e of this.section.querySelectorAll(selector)) e.addEventListener(event, () => act(e)); };
      on("[data-phase-toggle]", "change", (box) => {
        if (box.checked) this.hiddenPhases.delete(box.dataset.phaseToggle); else this.hiddenPhases.add(box.dataset.phaseToggle);
        this.refresh();
      });
      on("[data-layer-toggle]", "change", (box) => {
        for (const layer of this.section.querySelectorAll(`svg [data-layer="${box.dataset.layerToggle}"]`)) layer.classList.toggle("away", !box.checked);
      });
      on("[data-area-toggle]", "change", (box) => this.showArea(box.checked));
      on("[data-reflown]", "change", (box) => this.showReflown(box));
      on('[data-choose="circuit"]', "change", (list) => {
        this.circuit = Number(list.value);
        this.chosen = true;
        this.refresh();
        this.show(this.circuit ? this.range[0] : this.time);
      });
      on('[data-choose="other"]', "change", (list) => { this.other = Number(list.value); this.chosen = true; this.chooseFirst(); this.refresh(); });
      on("[data-zoom]", "click", (button) => this.zoomBy(button.dataset.zoom));
      on("[data-pan]", "click", (button) => this.panStep(...button.dataset.pan.split(" ").map(Number)));
      on("details.lines", "toggle", () => this.unfolded());
      this.slider.addEventListener("input", () => { this.stop(); this.moveTo(Number(this.slider.value)); });
      this.playButton.addEventListener("click", () => this.toggle());
      for (const view of this.views) this.bindPointer(view);
      for (const radio of document.querySelectorAll(".turn-units input")) radio.addEventListener("change", () => this.show(this.time));
      window.addEventListener("resize", () => this.measure());
    }

    measure() {
      for (const view of this.views) view.width = 0;
      this.show(this.time);
    }

    // Said by classes: a style that asks what an element holds is worked out anew for every picture of the replay.
    unfolded() {
      this.box.classList.toggle("opened", this.box.querySelector("details.lines").open);
      document.documentElement.classList.toggle("opened", document.querySelector("details.lines[open]") !== null);
      this.measure();
    }

    // The holding area is larger than the pattern: with it the plan looks further out.
    showArea(shown) {
      const view = this.views.find((one) => one.kind === "plan");
      view.svg.classList.toggle("with-airspace", shown);
      this.box.classList.toggle("area-shown", shown);
      view.reach = shown ? view.svg.dataset.reach.split(" ").map(Number) : null;
      this.zoomBy("fit");
    }

    chooseFirst() {
      if (!this.other || this.circuit) return;
      const list = this.section.querySelector('[data-choose="circuit"]');
      const free = [...list.options].map((option) => Number(option.value)).find((number) => number && number !== this.other);
      this.circuit = free || 0;
      list.value = String(this.circuit || "");
    }

    showReflown(box) {
      const [circuit, cause] = box.dataset.reflown.split("|");
      for (const way of this.section.querySelectorAll('[data-layer="reflown"] > g')) {
        if (way.dataset.circuit === circuit && way.dataset.cause === cause) way.classList.toggle("shown", box.checked);
      }
    }

    bindPointer(view) {
      const { svg } = view;
      const fingers = new Map();
      let grip = null;
      const onStrip = view.kind === "ribbon" || view.kind === "strip";
      const timeAt = (event, dragging) => (onStrip ? this.timeOnStrip(view, event) : this.nearest(view, event, dragging));
      svg.addEventListener("pointerdown", (event) => {
        fingers.set(event.pointerId, event);
        if (view.kind === "plan" && fingers.size === 2) { grip = "pinch"; this.stop(); return; }
        const near = timeAt(event, false);
        grip = near !== null ? "time" : view.kind === "plan" && view.zoom > 1 ? "pan" : null;
        if (!grip) return;
        this.stop();
        svg.setPointerCapture(event.pointerId);
        if (grip === "time") this.moveTo(near); else this.pan = [event.clientX, event.clientY];
      });
      svg.addEventListener("pointermove", (event) => {
        if (!fingers.has(event.pointerId)) return;
        const before = [...fingers.values()];
        fingers.set(event.pointerId, event);
        if (grip === "pinch") this.pinch(view, before, [...fingers.values()]);
        else if (grip === "pan") this.panBy(view, event);
        else if (grip === "time") {
          const near = timeAt(event, true);
          if (near !== null) this.moveTo(near);
        }
      });
      const end = (event) => { fingers.delete(event.pointerId); grip = null; };
      svg.addEventListener("pointerup", end);
      svg.addEventListener("pointercancel", end);
      // On a touch screen a drag that starts on the track moves the cursor, two fingers zoom the plan; else the page scrolls.
      svg.addEventListener("touchstart", (event) => {
        const own = event.touches.length === 1 ? view.zoom > 1 || (!onStrip && this.nearest(view, event.touches[0], false) !== null) : view.kind === "plan";
        if (own && event.cancelable) event.preventDefault();
      }, { passive: false });
      if (view.kind === "plan") svg.addEventListener("wheel", (event) => { if (event.ctrlKey) { event.preventDefault(); this.zoomBy(event.deltaY < 0 ? "in" : "out", event); } }, { passive: false });
    }

    // Two fingers: what lay between them stays between them.
    pinch(view, before, after) {
      const apart = ([a, b]) => Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY) || 1;
      const middle = ([a, b]) => ({ clientX: (a.clientX + b.clientX) / 2, clientY: (a.clientY + b.clientY) / 2 });
      const held = this.underPointer(view, middle(before), view.box || [0, 0, view.map.w, view.map.h]);
      this.zoomTo(view, (view.zoom * apart(after)) / apart(before));
      const box = view.svg.getBoundingClientRect(), to = middle(after);
      const w = view.map.w / view.zoom, h = view.map.h / view.zoom;
      this.look(view, held[0] - ((to.clientX - box.left) / box.width) * w, held[1] - ((to.clientY - box.top) / box.height) * h);
    }

    timeOnStrip(view, event) {
      const box = view.svg.getBoundingClientRect();
      return ((event.clientX - box.left) / box.width * view.map.w - view.map.ox) / view.map.kx;
    }

    nearest(view, event, dragging) {
      const box = view.svg.getBoundingClientRect();
      const [x0, y0, w, h] = view.box || [0, 0, view.map.w, view.map.h];
      const [across, up] = view.kind === "side" ? ["along", "alt"] : view.kind === "air" ? ["ae", "an"] : ["e", "n"];
      const [from, to] = this.range;
      let best = null, least = dragging ? Infinity : NEAR_PX;
      this.c.t.forEach((t, i) => {
        if (t < from || t > to || this.c[up][i] === null) return;
        const x = ((view.map.ox + view.map.kx * this.c[across][i] - x0) / w) * box.width + box.left;
        const y = ((view.map.oy + view.map.ky * this.c[up][i] - y0) / h) * box.height + box.top;
        // Circuits lie over each other: while dragging, the neighbour in time wins over the neighbour in place.
        const off = Math.hypot(x - event.clientX, y - event.clientY) + (dragging ? 0.5 * Math.abs(t - this.time) : 0.01 * Math.abs(t - this.time));
        if (off < least) { least = off; best = t; }
      });
      return best;
    }

    zoomBy(how, event) {
      const view = this.views.find((one) => one.kind === "plan");
      const { map } = view;
      const old = view.box || [0, 0, map.w, map.h];
      this.zoomTo(view, how === "fit" ? 0 : view.zoom * (how === "in" ? 1.5 : 1 / 1.5));
      const w = map.w / view.zoom, h = map.h / view.zoom;
      const place = this.at(this.time);
      const middle = event ? this.underPointer(view, event, old)
        : view.zoom > 1 && how === "in" ? [map.ox + map.kx * this.read("e", place), map.oy + map.ky * this.read("n", place)]
        : [old[0] + old[2] / 2, old[1] + old[3] / 2];
      this.look(view, middle[0] - w / 2, middle[1] - h / 2);
    }

    zoomTo(view, zoom) {
      const least = view.reach ? Math.min(1, view.map.w / view.reach[2]) : 1;
      view.zoom = Math.min(12, Math.max(least, zoom));
    }

    panStep(right, down) {
      const view = this.views.find((one) => one.kind === "plan");
      const [x, y, w, h] = view.box || [0, 0, view.map.w, view.map.h];
      this.look(view, x + 0.25 * right * w, y + 0.25 * down * h);
    }

    underPointer(view, event, old) {
      const box = view.svg.getBoundingClientRect();
      return [old[0] + ((event.clientX - box.left) / box.width) * old[2], old[1] + ((event.clientY - box.top) / box.height) * old[3]];
    }

    panBy(view, event) {
      const scale = this.unitsPerPixel(view);
      const [x, y] = view.box;
      const [px, py] = this.pan;
      this.pan = [event.clientX, event.clientY];
      this.look(view, x - (event.clientX - px) * scale, y - (event.clientY - py) * scale);
    }

    look(view, x, y) {
      const { map } = view;
      const w = map.w / view.zoom, h = map.h / view.zoom;
      const [left, top, wide, high] = view.reach || [0, 0, map.w, map.h];
      view.box = [Math.min(left + wide - w, Math.max(left, x)), Math.min(top + high - h, Math.max(top, y)), w, h];
      for (const drawing of [view.svg, view.over]) drawing.setAttribute("viewBox", view.box.map((edge) => edge.toFixed(2)).join(" "));
      view.svg.style.setProperty("--zoom", String(view.zoom));
      view.svg.classList.toggle("zoomed", view.zoom > 1);
      view.svg.parentElement.classList.toggle("can-pan", view.zoom > 1);
      this.show(this.time);
    }

    // --- playing --------------------------------------------------------------------------------------------
    toggle() { if (this.playing) this.stop(); else this.play(); }

    play() {
      this.playing = true;
      this.press();
      this.box.classList.add("moving");
      // It begins at 0:00, the arrival over the fix; what was flown before can be looked at with the slider.
      this.moveTo(this.time >= this.range[1] - 0.5 ? Math.max(this.range[0], this.chosen ? this.range[0] : this.hold.start) : this.time);
      let last = performance.now();
      const step = (now) => {
        if (!this.playing) return;
        // Who asked for less motion gets four pictures a second instead of a glide.
        if (!calm.matches || now - last > 250) {
          this.show(this.time + ((now - last) / 1000) * Number(this.pace.value));
          last = now;
        }
        if (this.time >= this.range[1] - 0.01) this.stop(); else requestAnimationFrame(step);
      };
      requestAnimationFrame(step);
    }

    stop() { this.playing = false; this.press(); }

    press() {
      this.playButton.setAttribute("aria-pressed", String(this.playing));
      this.playButton.setAttribute("aria-label", this.playing ? "Pause" : "Play");
      this.playButton.firstElementChild.textContent = this.playing ? "❚❚" : "▶";
    }

    key(event) {
      const step = event.shiftKey ? 10 : 1;
      const moves = { ArrowLeft: -step, ArrowRight: step, ArrowDown: -step, ArrowUp: step, PageDown: -30, PageUp: 30 };
      if (event.key === " ") this.toggle();
      else if (event.key in moves) { this.stop(); this.moveTo(Math.round(this.time) + moves[event.key]); }
      else if (event.key === "Home") this.moveTo(Math.max(this.range[0], this.chosen ? this.range[0] : this.hold.start));
      else if (event.key === "End") this.moveTo(this.range[1]);
      else if (event.key === "+" || event.key === "=") this.zoomBy("in");
      else if (event.key === "-") this.zoomBy("out");
      else if (event.key === "0") this.zoomBy("fit");
      else return false;
      return true;
    }
  }

  document.documentElement.classList.add("scripted");
  const replays = [...document.querySelectorAll("section.hold")].map((section, i) => new Replay(section, data.holds[i]));

  document.addEventListener("keydown", (event) => {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const focus = document.activeElement;
    const own = replays.find((replay) => replay.box.contains(focus) || replay.slider === focus);
    const busy = focus && focus !== document.body && !(own && focus === own.slider);
    if (busy || document.querySelector("dialog[open]")) return;
    // Without a focus in the replay only keys that are no characters reach it, and none that scroll the page.
    const far = [" ", "ArrowLeft", "ArrowRight"].includes(event.key);
    const seen = own || (far ? replays.find((replay) => {
      const box = replay.box.getBoundingClientRect();
      return box.height && box.top < window.innerHeight * 0.6 && box.bottom > window.innerHeight * 0.4;
    }) : null);
    if (seen && seen.key(event)) event.preventDefault();
  });

})();
