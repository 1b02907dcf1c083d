"use strict";
// Shows what stands in the page's table at the place of its sliders; computes nothing.
(async () => {
  const byId = (id) => document.getElementById(id);
  const { sliders, figures, words, wanted_min: wantedMin } = JSON.parse(byId("page").textContent);

  async function opened(text) {
    const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
    return JSON.parse(await new Response(stream).text());
  }

  let table;
  try {
    table = await opened(byId("table").textContent);
  } catch {
    byId("too-old").hidden = false;
    return;
  }

  const boxes = sliders.map((slider) => byId(slider.key));
  const own = sliders.map((slider) => slider.own);
  const spot = () => boxes.map((box) => Number(box.value));
  const placeOf = (setting) => setting.reduce((place, step, k) => place * sliders[k].texts.length + step, 0);
  const moved = (setting, changes) => setting.map((step, k) => changes[sliders[k].key] ?? step);
  const indexOf = (key) => sliders.findIndex((slider) => slider.key === key);
  const textsOf = (key) => sliders[indexOf(key)].texts;

  function numberText(figure, place) {
    const value = table.figures[figure.key][place];
    return value === null ? "-" : (value / 10 ** figure.decimals).toFixed(figure.decimals);
  }

  const figureText = (figure, place) => {
    const text = numberText(figure, place);
    return text === "-" ? text : `${text} ${figure.unit}`.trimEnd();
  };

  function minutesAt(place) {
    const value = table.figures.endurance_min[place];
    return value === null ? null : value / 10 ** figures[0].decimals;
  }

  function made(tag, text, name) {
    const element = document.createElement(tag);
    if (text !== undefined) element.textContent = text;
    if (name) element.className = name;
    return element;
  }

  function drawn(tag, given, text) {
    const shape = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const [name, value] of Object.entries(given)) shape.setAttribute(name, value);
    if (text !== undefined) shape.textContent = text;
    return shape;
  }

  function showAnswer(place) {
    const { word, sign, look } = words[table.verdict[place]];
    const flights = table.flights[place];
    byId("verdict").className = look;
    document.querySelector("#verdict .word").textContent = `${sign} ${word}`;
    byId("said").textContent = table.sayings[table.said[place]].map((k) => table.sentences[k]).join(" ");
    byId("flights").textContent = flights < 0 ? "" : `Flight time: ${table.sentences[flights]}`;
    for (const figure of figures) {
      document.querySelector(`#figures [data-key="${figure.key}"] dd`).textContent = figureText(figure, place);
    }
  }

  function marker(look, x, y) {
    if (look === "broken") return drawn("path", { class: look, d: `M${x - 4} ${y - 4}l8 8m0 -8l-8 8` });
    if (look === "holds") return drawn("circle", { class: look, cx: x, cy: y, r: 4.5 });
    const corners = `${x},${y - 6} ${x + 6},${y + 5} ${x - 6},${y + 5}`;
    return drawn("polygon", { class: `${look} open`, points: corners });
  }

  // Minutes over payload; a line joins two places only where the verdict is the same.
  function showChart(setting) {
    const texts = textsOf("payload_g");
    const points = texts.map((text, step) => {
      const place = placeOf(moved(setting, { payload_g: step }));
      return { text, step, minutes: minutesAt(place), verdict: table.verdict[place] };
    });
    const known = points.filter((point) => point.minutes !== null);
    const top = Math.max(1, wantedMin ?? 0, ...known.map((point) => point.minutes)) * 1.1;
    const [left, right, high, low] = [40, 404, 10, 180];
    const x = (step) => left + 12 + ((right - left - 24) * step) / Math.max(1, points.length - 1);
    const y = (minutes) => low - ((low - high) * minutes) / top;
    const name = `Flight time over payload: ${known.map((p) => `${p.text} ${p.minutes} min, ${words[p.verdict].word}`).join("; ")}`;
    const picture = drawn("svg", { viewBox: "0 0 420 218", role: "img", "aria-label": name });
    const step = [1, 2, 5, 10, 20, 50, 100, 200, 500].find((one) => top / one <= 5) ?? 1000;
    for (let minutes = 0; minutes <= top; minutes += step) {
      picture.append(drawn("line", { class: "grid", x1: left, x2: right, y1: y(minutes), y2: y(minutes) }));
      picture.append(drawn("text", { x: left - 6, y: y(minutes) + 4, "text-anchor": "end" }, minutes));
    }
    if (wantedMin !== null) {
      picture.append(drawn("line", { class: "asked", x1: left, x2: right, y1: y(wantedMin), y2: y(wantedMin) }));
    }
    points.forEach((point, k) => {
      const next = points[k + 1];
      if (next && point.minutes !== null && next.minutes !== null && point.verdict === next.verdict) {
        const ends = { x1: x(k), y1: y(point.minutes), x2: x(k + 1), y2: y(next.minutes) };
        picture.append(drawn("line", { class: words[point.verdict].look, ...ends }));
      }
      if (k % Math.ceil(points.length / 5) === 0) {
        picture.append(drawn("text", { x: x(k), y: low + 16, "text-anchor": "middle" }, point.text));
      }
    });
    for (const point of known) picture.append(marker(words[point.verdict].look, x(point.step), y(point.minutes)));
    const here = points[setting[indexOf("payload_g")]];
    if (here.minutes !== null) {
      picture.append(drawn("circle", { class: "here", cx: x(here.step), cy: y(here.minutes), r: 10 }));
    }
    picture.append(drawn("text", { x: (left + right) / 2, y: 214, "text-anchor": "middle" }, "payload"));
    const asked = wantedMin === null ? "" : `; dashed: ${wantedMin} min asked for`;
    byId("chart-title").textContent = `Minutes as planned, with other payloads${asked}`;
    byId("chart").replaceChildren(picture);
  }

  function showPacks(setting) {
    const grid = made("table");
    const head = made("tr");
    head.append(made("th"), ...textsOf("series").map((text) => made("th", `${text}S`)));
    grid.append(head);
    textsOf("parallel").forEach((text, parallel) => {
      const row = made("tr");
      row.append(made("th", `${text}P`));
      textsOf("series").forEach((_, series) => {
        const there = moved(setting, { series, parallel });
        const place = placeOf(there);
        const { sign, look, word } = words[table.verdict[place]];
        const text = table.verdict[place] === "unsafe" ? "unsafe" : numberText(figures[0], place);
        const box = made("td", `${sign} ${text}`, look);
        box.title = word;
        if (there.every((step, k) => step === setting[k])) box.classList.add("here");
        row.append(box);
      });
      grid.append(row);
    });
    const [cell, payload, reserve] = ["cell", "payload_g", "reserve_pct"].map((key) => textsOf(key)[setting[indexOf(key)]]);
    byId("packs-title").textContent = `Other packs of ${cell}, ${payload} of payload, ${reserve} of reserve: minutes`;
    byId("packs").replaceChildren(grid);
  }

  function show() {
    const setting = spot();
    const place = placeOf(setting);
    sliders.forEach((slider, k) => {
      const shown = document.querySelector(`output[for="${slider.key}"]`);
      if (!shown) return;
      shown.textContent = slider.texts[setting[k]];
      boxes[k].setAttribute("aria-valuetext", slider.texts[setting[k]]);
    });
    showAnswer(place);
    showChart(setting);
    showPacks(setting);
    const changes = sliders.filter((slider, k) => setting[k] !== slider.own).map((slider) => slider.label);
    byId("changed").textContent = changes.length ? `Changed: ${changes.join("; ")}.` : "";
  }

  byId("controls").addEventListener("input", show);
  byId("controls").addEventListener("submit", (event) => event.preventDefault());
  byId("as-sent").addEventListener("click", () => {
    boxes.forEach((box, k) => { box.value = own[k]; });
    show();
  });
  byId("controls").hidden = byId("pictures").hidden = false;
  boxes.forEach((box, k) => { box.value = own[k]; }); // a browser may keep where they stood before
  show();
})();
