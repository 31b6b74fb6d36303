// Turns the finished shell in the job book: the GLB file that the page holds, drawn with WebGL. No library, no network.
//
// Faces are shaded from white to grey and their edges drawn black, so that it reads without colours. Drag, wheel, two
// fingers, or keys. Where anything is missing the picture stays as it is.
"use strict";
(() => {
  const find = (id) => document.getElementById(id);
  const canvas = find("turned");
  const data = find("shell");
  if (!canvas || !data) return;
  const gl = canvas.getContext("webgl", { antialias: true, preserveDrawingBuffer: true });
  if (!gl) return;

  // The file: a header of 12 bytes, the chunk of JSON, the chunk of numbers (glTF 2.0, 4.4). It is ours: one mesh.
  const bytes = Uint8Array.from(atob(data.textContent.trim()), (c) => c.charCodeAt(0)).buffer;
  const words = new DataView(bytes);
  const jsonLength = words.getUint32(12, true);
  const json = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 20, jsonLength)));
  const start = 28 + jsonLength;
  const mesh = json.meshes[0];
  const array = (index, Kind, width) => {
    const accessor = json.accessors[index];
    const view = json.bufferViews[accessor.bufferView];
    return new Kind(bytes.slice(start + (view.byteOffset || 0)), 0, accessor.count * width);
  };
  const points = array(mesh.primitives[0].attributes.POSITION, Float32Array, 3);
  const corners = array(mesh.primitives[0].indices, Uint32Array, 1);
  const faces = mesh.extras.faces;

  // Elements, by the names of their faces; a strip between two is the first one's.
  const names = [];
  const faceOf = new Int32Array(corners.length / 3);
  const elementOf = faces.map((face, f) => {
    const name = face.name.split("/")[0];
    if (!names.includes(name)) names.push(name);
    faceOf.fill(f, face.first_triangle, face.first_triangle + face.triangle_count);
    return names.indexOf(name);
  });

  const corner = (k) => [points[3 * k], points[3 * k + 1], points[3 * k + 2]];
  const minus = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
  const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const unit = (a) => { const l = Math.hypot(...a) || 1; return [a[0] / l, a[1] / l, a[2] / l]; };

  // Triangles: place, normal, element of each corner. Edges: where two faces meet, and folds within one.
  const FOLD = Math.cos(Math.PI / 22);
  const solid = [];
  const seams = [];
  const folds = [];
  const open = new Map();
  const low = [Infinity, Infinity, Infinity];
  const high = low.map((x) => -x);
  const feet = names.map(() => Infinity);
  for (let t = 0; t < faceOf.length; t += 1) {
    const ids = [corners[3 * t], corners[3 * t + 1], corners[3 * t + 2]];
    const at = ids.map(corner);
    const normal = unit(cross(minus(at[1], at[0]), minus(at[2], at[0])));
    const element = elementOf[faceOf[t]];
    for (const p of at) {
      solid.push(...p, ...normal, element);
      for (let i = 0; i < 3; i += 1) { low[i] = Math.min(low[i], p[i]); high[i] = Math.max(high[i], p[i]); }
      feet[element] = Math.min(feet[element], p[1]);
    }
    for (let i = 0; i < 3; i += 1) {
      const [a, b] = [ids[i], ids[(i + 1) % 3]];
      const key = a < b ? a * 4294967296 + b : b * 4294967296 + a;
      const other = open.get(key);
      if (!other) { open.set(key, { t, normal }); continue; }
      open.delete(key);
      const [f, g] = [faceOf[t], faceOf[other.t]];
      const line = (into, e) => into.push(...corner(a), e, ...corner(b), e);
      if (f !== g) {
        line(seams, element);
        if (elementOf[g] !== element) line(seams, elementOf[g]);
      } else if (dot(normal, other.normal) < FOLD) line(folds, element);
    }
  }
  const middle = low.map((x, i) => (x + high[i]) / 2);
  const radius = Math.hypot(...minus(high, low)) / 2 || 1;
  // Elements move apart upward, in the order of their feet.
  const order = names.map((_, i) => i).sort((a, b) => feet[a] - feet[b] || a - b);
  const rank = names.map((_, i) => order.indexOf(i));

  const program = (vertex, fragment) => {
    const made = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(made, shader);
    }
    gl.linkProgram(made);
    return gl.getProgramParameter(made, gl.LINK_STATUS) ? made : null;
  };
  const PLACE = `
    attribute vec3 place; attribute float element;
    uniform mat3 turn; uniform vec3 middle; uniform vec2 scale; uniform float nearer; uniform float lifts[64];
    vec4 where() {
      vec3 p = turn * (place + vec3(0.0, lifts[int(element)], 0.0) - middle);
      return vec4(p.xy * scale, -p.z * nearer * 0.5, 1.0);
    }`;
  const shaded = program(`${PLACE}
    attribute vec3 normal; varying float light;
    void main() { vec3 n = turn * normal; light = 0.5 + 0.5 * dot(n, vec3(0.36, 0.64, 0.68)); gl_Position = where(); }`, `
    precision mediump float; varying float light; uniform float pale;
    void main() { float g = mix(0.42 + 0.56 * light, 1.0, pale); gl_FragColor = vec4(g, g * 0.985, g * 0.965, 1.0); }`);
  const lined = program(`${PLACE}
    uniform vec2 aside; void main() { gl_Position = where() + vec4(aside, -0.0006, 0.0); }`, `
    precision mediump float; uniform float pale; void main() { gl_FragColor = vec4(vec3(mix(0.05, 0.75, pale)), 1.0); }`);
  if (!shaded || !lined || names.length > 64) return;

  // Each element by itself, so that one can be shown alone.
  const buffer = (list, width) => {
    const parts = names.map(() => []);
    for (let i = 0; i < list.length; i += width) {
      const element = list[i + width - 1];
      for (let k = 0; k < width; k += 1) parts[element].push(list[i + k]);
    }
    const ranges = [];
    let first = 0;
    for (const part of parts) { ranges.push([first, part.length / width]); first += part.length / width; }
    const made = gl.createBuffer();
    gl.bindBuffer(gl.ARRAY_BUFFER, made);
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(parts.flat()), gl.STATIC_DRAW);
    return { made, ranges, width };
  };
  const buffers = { solid: buffer(solid, 7), seams: buffer(seams, 4), folds: buffer(folds, 4) };

  const first = () => ({ turn: -58, tilt: 22, size: 1, apart: 0, only: -1 });
  let pose = first();
  let asked = false;

  const draw = () => {
    asked = false;
    const sharp = Math.min(window.devicePixelRatio || 1, 3);
    const [w, h] = [Math.round(canvas.clientWidth * sharp), Math.round(canvas.clientHeight * sharp)];
    if (canvas.width !== w || canvas.height !== h) { canvas.width = w; canvas.height = h; }
    gl.viewport(0, 0, w, h);
    gl.clearColor(1, 1, 1, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    const [sa, ca, se, ce] = [pose.turn, pose.tilt].flatMap((d) => {
      const r = (d * Math.PI) / 180;
      return [Math.sin(r), Math.cos(r)];
    });
    // Right, up and toward the viewer in the axes of the file (y up, z to the south), as columns of the turn.
    const right = [-sa, 0, -ca];
    const up = [-se * ca, ce, se * sa];
    const toward = [ce * ca, se, -ce * sa];
    const turn = [0, 1, 2].flatMap((i) => [right[i], up[i], toward[i]]);
    const step = ((high[1] - low[1]) * 0.9 * pose.apart) / Math.max(names.length - 1, 1);
    const lifts = new Float32Array(64);
    rank.forEach((k, i) => { lifts[i] = (k - (names.length - 1) / 2) * step; });
    if (pose.only >= 0) lifts.fill(0);
    const reach = radius * (1 + (pose.only < 0 ? 0.75 * pose.apart : 0));
    const fit = (0.97 / reach) * pose.size;
    const scale = [fit * Math.min(1, h / w), fit * Math.min(1, w / h)];
    for (const [what, kind] of [[shaded, "solid"], [lined, "folds"], [lined, "seams"]]) {
      const { made, ranges, width } = buffers[kind];
      gl.useProgram(what);
      const uniform = (name) => gl.getUniformLocation(what, name);
      gl.uniformMatrix3fv(uniform("turn"), false, turn);
      gl.uniform3fv(uniform("middle"), middle);
      gl.uniform2fv(uniform("scale"), scale);
      gl.uniform1f(uniform("nearer"), 0.9 / reach);
      gl.uniform1fv(uniform("lifts"), lifts);
      gl.uniform1f(uniform("pale"), kind === "folds" ? 0.45 : 0);
      gl.bindBuffer(gl.ARRAY_BUFFER, made);
      const attribute = (name, count, offset) => {
        const place = gl.getAttribLocation(what, name);
        if (place < 0) return;
        gl.enableVertexAttribArray(place);
        gl.vertexAttribPointer(place, count, gl.FLOAT, false, 4 * width, 4 * offset);
      };
      attribute("place", 3, 0);
      attribute("normal", 3, 3);
      attribute("element", 1, width - 1);
      // Lines of WebGL are one dot wide: seams are drawn several times, side by side.
      const asides = kind === "seams" ? [[0, 0], [1, 0], [0, 1], [1, 1]] : [[0, 0]];
      for (const [x, y] of asides) {
        if (kind !== "solid") gl.uniform2f(uniform("aside"), (2 * x * sharp) / w / 2, (2 * y * sharp) / h / 2);
        ranges.forEach(([from, count], i) => {
          if (count && (pose.only < 0 || pose.only === i)) gl.drawArrays(kind === "solid" ? gl.TRIANGLES : gl.LINES, from, count);
        });
      }
    }
    const away = Math.round(((pose.turn + 90) % 360 + 360) % 360);
    find("turn-pose").textContent = `turned ${away}°, tilted ${Math.round(pose.tilt)}°, size × ${pose.size.toFixed(2)}`;
  };
  const ask = () => { if (!asked) { asked = true; requestAnimationFrame(draw); } };
  const change = (by) => {
    pose = { ...pose, ...by };
    pose.tilt = Math.max(-90, Math.min(90, pose.tilt));
    pose.size = Math.max(0.5, Math.min(12, pose.size));
    ask();
  };
  const back = () => {
    pose = first();
    find("turn-element").value = "";
    find("turn-apart").value = "0";
    ask();
  };

  // One finger or the mouse turns; two fingers also make it larger or smaller.
  const fingers = new Map();
  const gap = () => {
    const [a, b] = [...fingers.values()];
    return Math.hypot(a[0] - b[0], a[1] - b[1]) || 1;
  };
  canvas.addEventListener("pointerdown", (event) => {
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    try { canvas.setPointerCapture(event.pointerId); } catch (error) { /* a pointer that is gone already */ }
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    const wide = fingers.size === 2 ? gap() : 0;
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    const share = 0.45 / Math.max(fingers.size, 1);
    const by = { turn: pose.turn - (event.clientX - before[0]) * share, tilt: pose.tilt + (event.clientY - before[1]) * share };
    if (wide) by.size = (pose.size * gap()) / wide;
    change(by);
  });
  for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) {
    canvas.addEventListener(end, (event) => fingers.delete(event.pointerId));
  }
  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    change({ size: pose.size * Math.exp(-Math.max(-120, Math.min(120, event.deltaY)) * 0.0015) });
  }, { passive: false });
  const NEARER = 1.2;
  const keys = {
    ArrowLeft: () => ({ turn: pose.turn + 10 }),
    ArrowRight: () => ({ turn: pose.turn - 10 }),
    ArrowUp: () => ({ tilt: pose.tilt - 10 }),
    ArrowDown: () => ({ tilt: pose.tilt + 10 }),
    "+": () => ({ size: pose.size * NEARER }),
    "=": () => ({ size: pose.size * NEARER }),
    "-": () => ({ size: pose.size / NEARER }),
  };
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    if (event.key === "0" || event.key === "Home") back();
    else if (keys[event.key]) change(keys[event.key]());
    else return;
    event.preventDefault();
  });
  find("turn-nearer").addEventListener("click", () => change(keys["+"]()));
  find("turn-farther").addEventListener("click", () => change(keys["-"]()));
  find("turn-back").addEventListener("click", back);
  find("turn-apart").addEventListener("input", (event) => change({ apart: event.target.value / 100 }));
  const select = find("turn-element");
  for (const i of order) select.add(new Option(names[i], String(i)));
  select.addEventListener("change", () => change({ only: select.value === "" ? -1 : Number(select.value) }));
  canvas.addEventListener("webglcontextlost", () => { find("turn").hidden = true; find("still").hidden = false; });
  new ResizeObserver(ask).observe(canvas);

  find("turn").hidden = false;
  find("still").hidden = true;
  draw();
})();
