// Looking closely at one side: divider, blink, a map on top, outlines, and the colour of the place
// pointed at. Without it the page shows all else; nothing is fetched and nothing is kept.
'use strict';

(function () {
  const kBlinkMs = 700;
  const kLabSteps = 10, kDifferenceSteps = 20;  // steps a unit in a read-out's planes

  function make(tag, attributes, ...children) {
    const svg = ['svg', 'a-svg', 'polygon', 'title'].includes(tag);
    const name = tag === 'a-svg' ? 'a' : tag;
    const element = svg ? document.createElementNS('http://www.w3.org/2000/svg', name)
                        : document.createElement(name);
    for (const [key, value] of Object.entries(attributes || {})) element.setAttribute(key, value);
    element.append(...children);
    return element;
  }

  function fill(words, values) {
    return words.replace(/\{(\w+)\}/g, (all, name) => name in values ? values[name] : all);
  }

  function number(value, decimals) {
    const text = Math.abs(value).toFixed(decimals);
    return (value < 0 && Number(text) !== 0 ? '\u2212' : '') + text;
  }

  // Packed planes -> {measured, lab_from, lab_to, difference}; each plane's numbers were written as
  // steps from cell to cell, low bytes and high bytes apart.
  async function unpack(packed, frame) {
    const bytes = Uint8Array.from(atob(packed), (c) => c.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('deflate'));
    const all = new Uint8Array(await new Response(stream).arrayBuffer());
    const cells = frame.columns * frame.rows;
    const planes = [];
    for (let plane = 0; plane < 9; ++plane) {
      const low = cells + 2 * plane * cells, high = low + cells;
      const values = new Int16Array(cells);
      for (let row = 0, at = 0; row < frame.rows; ++row) {
        let value = 0;
        for (let column = 0; column < frame.columns; ++column, ++at) {
          value = (value + (all[low + at] | all[high + at] << 8)) << 16 >> 16;
          values[at] = value;
        }
      }
      planes.push(values);
    }
    return {measured: all.subarray(0, cells), planes};
  }

  function build(root) {
    const data = JSON.parse(root.querySelector('script').textContent);
    const words = data.words;
    const picture = (id) => document.getElementById(id);
    if (!picture(data.before) || !picture(data.after)) return;  // left out to keep the page small

    const layer = (id, name) => make('img', {src: picture(id).src, alt: '', class: name});
    const before = layer(data.before, 'before'), after = layer(data.after, 'after');
    const overlay = make('img', {alt: '', class: 'overlay', hidden: ''});
    const outlines = make('svg', {
      class: 'outlines',
      viewBox: `-0.5 -0.5 ${data.frame.columns} ${data.frame.rows}`,
    });
    for (const region of data.regions) {
      const link = make('a-svg', {href: '#' + region.id, 'aria-label': region.name},
                        make('polygon', {class: 'under', points: region.points.join(' ')}),
                        make('polygon', {class: 'over', points: region.points.join(' ')}),
                        make('title', {}, region.name));
      outlines.append(link);
    }
    const line = make('div', {class: 'line'}), cross = make('div', {class: 'cross', hidden: ''});
    const sheet = make('div', {
      class: 'layers', tabindex: '0', role: 'img',
      'aria-label': `${data.side}: ${data.from}, ${data.to}`,
    }, before, after, overlay, outlines, line, cross);
    const frame = make('div', {class: 'window'}, sheet);

    const labelled = (text, control) => make('label', {}, make('span', {}, text), control);
    const divider = make('input', {type: 'range', min: 0, max: 100, value: 50, class: 'divider',
                                   'aria-label': words.divider});
    const blink = make('button', {type: 'button', 'aria-pressed': 'false'}, words.blink);
    const choice = make('select', {}, make('option', {value: ''}, words.no_map),
                        ...data.overlays.map((map, i) => make('option', {value: i}, map.title)));
    const opacity = make('input', {type: 'range', min: 0, max: 100, value: 80});
    const outlined = make('input', {type: 'checkbox', checked: ''});
    const zoom = make('input', {type: 'range', min: 1, max: 6, step: 0.5, value: 1});
    const legend = make('img', {class: 'legend', alt: '', hidden: ''});
    const readout = make('dl', {class: 'readout', 'aria-live': 'polite'});
    const ends = make('div', {class: 'ends'}, make('span', {}, data.from), make('span', {}, data.to));
    root.append(
        make('h3', {}, data.side),
        make('div', {class: 'panes'}, make('div', {}, divider, ends, frame),
             make('div', {class: 'panel'},
                  make('div', {class: 'controls'}, blink, labelled(words.map, choice),
                       labelled(words.opacity, opacity), labelled(words.outlines, outlined),
                       labelled(words.zoom, zoom)),
                  legend, readout)));
    root.hidden = false;

    function divide(share) {
      // Left of the line the sheet as it was, right of it as it is.
      after.style.clipPath = `inset(0 0 0 ${share}%)`;
      line.style.left = `${share}%`;
      line.hidden = share <= 0 || share >= 100;
    }
    divider.addEventListener('input', () => { stop(); divide(Number(divider.value)); });
    divide(50);

    let timer = 0, showing = false;
    function stop() {
      if (!timer) return;
      clearInterval(timer);
      timer = 0;
      blink.setAttribute('aria-pressed', 'false');
      blink.textContent = words.blink;
      divide(Number(divider.value));
    }
    blink.addEventListener('click', () => {
      if (timer) { stop(); return; }
      blink.setAttribute('aria-pressed', 'true');
      blink.textContent = words.blinking;
      const turn = () => { showing = !showing; divide(showing ? 0 : 100); };
      turn();
      timer = setInterval(turn, kBlinkMs);
    });

    choice.addEventListener('change', () => {
      const map = data.overlays[choice.value];
      overlay.hidden = legend.hidden = !map;
      if (!map) return;
      overlay.src = map.uri;
      legend.src = map.legend;
      legend.alt = map.says;
    });
    const fade = () => { overlay.style.opacity = opacity.value / 100; };
    opacity.addEventListener('input', fade);
    fade();
    outlined.addEventListener('change', () => { outlines.classList.toggle('off', !outlined.checked); });
    zoom.addEventListener('input', () => { sheet.style.width = `${100 * zoom.value}%`; });

    // The read-out. `at`: a pixel of the picture, fractions allowed.
    let grid = null, at = {x: data.frame.columns / 2, y: data.frame.rows / 2};
    const say = (name, text) => readout.append(
        make('div', {}, make('dt', {}, name), make('dd', {}, text)));

    function show() {
      readout.replaceChildren();
      const mm = (px) => number((px + 0.5) * data.frame.pitch_mm, 1);
      say(words.place, fill(words.from_top_left, {x: mm(at.x), y: mm(at.y)}));
      cross.hidden = false;
      cross.style.left = `${100 * (at.x + 0.5) / data.frame.columns}%`;
      cross.style.top = `${100 * (at.y + 0.5) / data.frame.rows}%`;
      if (!grid) return;
      const f = data.readout.frame;
      const column = Math.round((data.frame.x + data.frame.pitch_px * at.x - f.x) / f.pitch_px);
      const row = Math.round((data.frame.y + data.frame.pitch_px * at.y - f.y) / f.pitch_px);
      const cell = row * f.columns + column;
      if (column < 0 || row < 0 || column >= f.columns || row >= f.rows || !grid.measured[cell]) {
        say(words.difference, words.nothing);
        return;
      }
      const lab = (first) => ['L* ', 'a* ', 'b* '].map(
          (name, i) => name + number(grid.planes[first + i][cell] / kLabSteps, 1)).join('   ');
      const difference = (i) => number(grid.planes[6 + i][cell] / kDifferenceSteps, 1);
      say(`${words.before} (${data.from})`, lab(0));
      say(`${words.after} (${data.to})`, lab(3));
      say(words.difference, difference(0));
      say(words.interval, fill(words.to, {low: difference(1), high: difference(2)}));
    }

    sheet.addEventListener('pointermove', (event) => {
      const box = sheet.getBoundingClientRect();
      at = {x: (event.clientX - box.left) / box.width * data.frame.columns - 0.5,
            y: (event.clientY - box.top) / box.height * data.frame.rows - 0.5};
      show();
    });
    sheet.addEventListener('keydown', (event) => {
      const steps = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]};
      const step = steps[event.key];
      if (!step || event.target !== sheet) return;
      event.preventDefault();
      const cell = data.readout ? data.readout.frame.pitch_mm / data.frame.pitch_mm : 1;
      const far = (event.shiftKey ? 10 : 1) * cell;
      const within = (value, most) => Math.min(Math.max(value, 0), most - 1);
      at = {x: within(at.x + far * step[0], data.frame.columns),
            y: within(at.y + far * step[1], data.frame.rows)};
      show();
    });

    say(words.place, words.away);
    if (data.readout && window.DecompressionStream) {
      unpack(data.readout.packed, data.readout.frame).then((unpacked) => {
        grid = unpacked;
        root.dataset.ready = 'yes';
      });
    }
  }

  for (const root of document.querySelectorAll('.viewer')) build(root);
})();
