"use strict";
// Turns the 3-D scenes of the report. Each scene is a GLB written by barwright (see glb.py) and kept
// in the page; of glTF this reads what that module writes: one primitive to a mesh, no transforms.
(() => {
  const HEAT = [[0.957, 0.929, 0.839], [0.890, 0.784, 0.561], [0.773, 0.561, 0.384],
                [0.541, 0.353, 0.361], [0.298, 0.227, 0.341], [0.114, 0.129, 0.251]];
  const VERTEX = `
    attribute vec3 place, across, move;
    uniform mat3 turn;
    uniform vec3 middle, size;
    uniform float share, largest, lift;
    varying vec3 facing;
    varying float amount;
    void main() {
      vec3 seen = turn * (place + share * move - middle);
      facing = turn * across;
      amount = length(move) / largest;
      gl_Position = vec4(seen.xy * size.xy, -seen.z * size.z - lift, 1.0);
    }`;
  const FRAGMENT = `
    precision mediump float;
    uniform vec4 colour;
    uniform vec3 heat[6];
    uniform float lit, heated;
    varying vec3 facing;
    varying float amount;
    vec3 ramp(float at) {
      vec3 found = heat[0];
      for (int i = 0; i < 5; i++)
        found = mix(found, heat[i + 1], clamp(at * 5.0 - float(i), 0.0, 1.0));
      return found;
    }
    void main() {
      vec3 base = mix(colour.rgb, ramp(clamp(amount, 0.0, 1.0)), heated);
      vec3 n = normalize(facing + vec3(0.0, 0.0, 1e-6));
      if (n.z < 0.0) n = -n;
      float light = 0.5 + 0.5 * max(dot(n, normalize(vec3(0.35, 0.6, 0.75))), 0.0);
      gl_FragColor = vec4(base * mix(1.0, light, lit), colour.a);
    }`;

  function opened(element) {
    const text = atob(element.textContent.trim());
    const bytes = Uint8Array.from(text, (letter) => letter.charCodeAt(0));
    const view = new DataView(bytes.buffer);
    const length = view.getUint32(12, true);
    const said = JSON.parse(new TextDecoder().decode(bytes.subarray(20, 20 + length)));
    const start = 28 + length;
    const numbers = (place) => {
      const one = said.accessors[place];
      const at = start + (said.bufferViews[one.bufferView].byteOffset || 0);
      const width = one.type === "VEC3" ? 3 : 1;
      const Kind = one.componentType === 5125 ? Uint32Array : Float32Array;
      return new Kind(bytes.buffer.slice(at, at + 4 * one.count * width));
    };
    const bodies = said.meshes.map((mesh) => {
      const piece = mesh.primitives[0];
      const factor = said.materials[piece.material].pbrMetallicRoughness.baseColorFactor;
      const places = said.accessors[piece.attributes.POSITION];
      return {
        low: places.min, high: places.max, lines: piece.mode === 1,
        place: numbers(piece.attributes.POSITION),
        across: "NORMAL" in piece.attributes ? numbers(piece.attributes.NORMAL) : null,
        joined: numbers(piece.indices),
        moves: (piece.targets || []).map((one) => numbers(one.POSITION)),
        colour: factor.map((x, i) => (i < 3 ? Math.pow(x, 1 / 2.2) : x)),
      };
    });
    return { bodies, movements: (said.animations || []).map((one) => one.name) };
  }

  function compiled(gl) {
    const program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    return gl.getProgramParameter(program, gl.LINK_STATUS) ? program : null;
  }

  function show(figure) {
    const canvas = figure.querySelector("canvas");
    const gl = canvas.getContext("webgl", { antialias: true, preserveDrawingBuffer: true });
    if (!gl || !gl.getExtension("OES_element_index_uint")) return;
    const program = compiled(gl);
    if (!program) return;
    const scene = opened(document.getElementById(figure.dataset.scene));
    const where = (name) => gl.getUniformLocation(program, name);
    const u = Object.fromEntries(["turn", "middle", "size", "share", "largest", "colour", "heat",
                                  "lit", "heated", "lift"].map((name) => [name, where(name)]));
    const a = Object.fromEntries(["place", "across", "move"].map(
      (name) => [name, gl.getAttribLocation(program, name)]));
    const kept = (values, kind) => {
      const buffer = gl.createBuffer();
      gl.bindBuffer(kind, buffer);
      gl.bufferData(kind, values, gl.STATIC_DRAW);
      return buffer;
    };
    const low = [1e9, 1e9, 1e9], high = [-1e9, -1e9, -1e9];
    const largest = scene.movements.map(() => 1e-12);
    for (const body of scene.bodies) {
      for (let i = 0; i < 3; i++) {
        low[i] = Math.min(low[i], body.low[i]);
        high[i] = Math.max(high[i], body.high[i]);
      }
      body.moves.forEach((move, k) => {
        for (let i = 0; i < move.length; i += 3)
          largest[k] = Math.max(largest[k], Math.hypot(move[i], move[i + 1], move[i + 2]));
      });
      for (const name of ["place", "across"])
        if (body[name]) body[name] = kept(body[name], gl.ARRAY_BUFFER);
      body.moves = body.moves.map((move) => kept(move, gl.ARRAY_BUFFER));
      body.count = body.joined.length;
      body.joined = kept(body.joined, gl.ELEMENT_ARRAY_BUFFER);
    }
    const solid = scene.bodies.filter((body) => body.colour[3] === 1);
    const order = [...solid, ...scene.bodies.filter((body) => body.colour[3] < 1)];
    const middle = low.map((x, i) => (x + high[i]) / 2);
    const reach = Math.hypot(...low.map((x, i) => high[i] - x)) / 2 + Math.max(0, ...largest);
    // Most of the bend goes the way the edge moves, which shows from well above.
    const START = { about: -0.5, over: scene.movements.length ? 0.95 : 0.35, near: 1 };
    const state = { ...START, chosen: 0, share: 1, playing: false };

    function draw() {
      const ratio = Math.min(window.devicePixelRatio || 1, 2);
      const wide = Math.max(1, Math.round(canvas.clientWidth * ratio));
      const tall = Math.max(1, Math.round(canvas.clientHeight * ratio));
      if (canvas.width !== wide || canvas.height !== tall) {
        canvas.width = wide;
        canvas.height = tall;
      }
      gl.viewport(0, 0, wide, tall);
      gl.clearColor(1, 1, 1, 1);
      gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
      gl.enable(gl.DEPTH_TEST);
      gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA);
      gl.useProgram(program);
      const [c, s] = [Math.cos(state.about), Math.sin(state.about)];
      const [d, e] = [Math.cos(state.over), Math.sin(state.over)];
      // About the upright, then over towards the eye; by columns.
      gl.uniformMatrix3fv(u.turn, false, [c, s * e, -s * d, 0, d, e, s, -c * e, c * d]);
      gl.uniform3fv(u.middle, middle);
      // Half of what is seen, across and upright, a movement spread over both.
      const half = low.map((x, i) => (high[i] - x) / 2);
      const spread = 0.5 * (largest[state.chosen] || 0);
      const seen = Math.abs(c) * half[0] + Math.abs(s) * half[2] + spread;
      const tallest = Math.abs(s * e) * half[0] + Math.abs(d) * half[1] + Math.abs(c * e) * half[2];
      const fit = 0.94 * state.near / Math.max(seen, (tallest + spread) * wide / tall);
      gl.uniform3f(u.size, fit, fit * wide / tall, 0.5 / reach);
      gl.uniform3fv(u.heat, HEAT.flat());
      gl.uniform1f(u.share, state.share);
      gl.uniform1f(u.largest, largest[state.chosen] || 1);
      for (const body of order) {
        const clear = body.colour[3] < 1;
        (clear ? gl.enable : gl.disable).call(gl, gl.BLEND);
        gl.depthMask(!clear);
        gl.uniform4fv(u.colour, body.colour);
        // Lines lie on faces: brought a little nearer, they are not lost in them.
        gl.uniform1f(u.lift, body.lines ? 0.0012 : 0);
        gl.uniform1f(u.lit, body.across ? 1 : 0);
        gl.uniform1f(u.heated, body.moves.length && body.across ? 1 : 0);
        for (const [name, buffer] of [["place", body.place], ["across", body.across],
                                      ["move", body.moves[state.chosen]]]) {
          if (a[name] < 0) continue;
          if (buffer) {
            gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
            gl.enableVertexAttribArray(a[name]);
            gl.vertexAttribPointer(a[name], 3, gl.FLOAT, false, 0, 0);
          } else {
            gl.disableVertexAttribArray(a[name]);
            gl.vertexAttrib3f(a[name], 0, 0, 0);
          }
        }
        gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, body.joined);
        gl.drawElements(body.lines ? gl.LINES : gl.TRIANGLES, body.count, gl.UNSIGNED_INT, 0);
      }
      gl.depthMask(true);
    }

    const status = figure.querySelector("[data-said]");
    const play = figure.querySelector("[data-do=play]");
    const choice = figure.querySelector("select");
    function step(now) {
      if (!state.playing) return;
      const turn = (now - state.since) / 2000;
      state.share = state.chosen === 0 ? Math.sin(Math.PI * turn) ** 2 : Math.sin(2 * Math.PI * turn);
      draw();
      requestAnimationFrame(step);
    }
    function rest() {
      state.playing = false;
      state.share = 1;
      if (play) play.textContent = "Play";
    }
    function act(name) {
      if (name === "play") {
        if (state.playing) rest();
        else {
          state.playing = true;
          state.since = performance.now();
          play.textContent = "Stop";
          requestAnimationFrame(step);
          return;
        }
      }
      if (name === "front") [state.about, state.over] = [0, 0];
      if (name === "above") [state.about, state.over] = [0, Math.PI / 2];
      if (name === "tail") [state.about, state.over] = [-Math.PI / 2, 0];
      if (name === "again") Object.assign(state, START);
      if (name === "nearer") state.near = Math.min(8, state.near * 1.25);
      if (name === "farther") state.near = Math.max(0.4, state.near / 1.25);
      if (name === "left") state.about -= 0.15;
      if (name === "right") state.about += 0.15;
      if (name === "up") state.over -= 0.15;
      if (name === "down") state.over += 0.15;
      draw();
    }
    figure.addEventListener("click", (event) => {
      const name = event.target.dataset && event.target.dataset.do;
      if (name) act(name);
    });
    const KEYS = { ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down",
                   "+": "nearer", "-": "farther", Home: "again" };
    canvas.addEventListener("keydown", (event) => {
      if (!(event.key in KEYS)) return;
      event.preventDefault();
      act(KEYS[event.key]);
    });
    canvas.addEventListener("pointerdown", (event) => {
      canvas.setPointerCapture(event.pointerId);
      state.held = [event.clientX, event.clientY];
    });
    canvas.addEventListener("pointermove", (event) => {
      if (!state.held) return;
      state.about += (event.clientX - state.held[0]) * 0.008;
      state.over += (event.clientY - state.held[1]) * 0.008;
      state.held = [event.clientX, event.clientY];
      draw();
    });
    for (const name of ["pointerup", "pointercancel"])
      canvas.addEventListener(name, () => { state.held = null; });
    if (choice) {
      choice.addEventListener("change", () => {
        rest();
        state.chosen = Number(choice.value);
        status.textContent = scene.movements[state.chosen];
        canvas.setAttribute("aria-label", scene.movements[state.chosen]);
        draw();
      });
    }
    figure.classList.add("alive");
    new ResizeObserver(draw).observe(canvas);
    draw();
  }

  for (const figure of document.querySelectorAll("figure[data-scene]")) {
    try {
      show(figure);
    } catch (error) {
      figure.classList.remove("alive");
    }
  }
})();
