// A jaw in three dimensions: base and arch out of a binary glTF of ours, in bands of depth or gap. In mm, z is the axis.

import {
  CanvasTexture, Float32BufferAttribute, GLTFLoader, Group, Mesh, OrbitControls, PerspectiveCamera, SRGBColorSpace, Scene,
  Sprite, SpriteMaterial, Vector3, WebGLRenderer,
} from "/static/vendor/three-0.187.0.js";
import { INK, material } from "./bands.js";

const NONE = -9;
const BONE = "#f4efe2";
const ROSE = "#d3a797";
const STEP = Math.PI / 12;
const NEAR = 22; // mm that are seen of a place that is looked at
const HIGH = 4; // mm that the marks of crowns stand above their margins
const SPEED = 450; // ms for a turn to another place
const FOV = (26 * Math.PI) / 180;
const FROM_ABOVE = { azimuth: 0, polar: 0.55 };
const STOP = "#b00020";
const LOW = 0.75; // from the axis: over the other side of the arch

// A label that keeps its size on the screen; without a text a small diamond.
function label(text, ground, ink = INK) {
  const canvas = document.createElement("canvas");
  const draw = canvas.getContext("2d");
  const font = "700 44px system-ui, sans-serif";
  draw.font = font;
  const [wide, high] = text ? [draw.measureText(text).width + 44, 64] : [36, 36];
  Object.assign(canvas, { width: wide, height: high });
  draw.beginPath();
  if (text) draw.roundRect(3, 3, wide - 6, high - 6, 26);
  else for (const [x, y] of [[18, 4], [32, 18], [18, 32], [4, 18]]) draw.lineTo(x, y);
  draw.closePath();
  Object.assign(draw, { fillStyle: ground, strokeStyle: INK, lineWidth: 5, font, textAlign: "center", textBaseline: "middle" });
  draw.fill();
  draw.stroke();
  draw.fillStyle = ink;
  draw.fillText(text, wide / 2, high / 2 + 3);
  const map = new CanvasTexture(canvas);
  map.colorSpace = SRGBColorSpace;
  const sprite = new Sprite(new SpriteMaterial({ map, sizeAttenuation: false, depthTest: false }));
  sprite.userData = { wide: wide * 0.42, high: high * 0.42 };
  sprite.renderOrder = 1;
  return sprite;
}

const turnBetween = (from, to) => from + Math.atan2(Math.sin(to - from), Math.cos(to - from));

export class Viewer {
  // `about` holds the names of both parts, bounds by kind, labels by place; `onLost` is told when the browser takes the drawing away.
  static async of(canvas, data, about, onLost) {
    let renderer = null;
    try {
      renderer = new WebGLRenderer({ canvas, antialias: true, alpha: true });
    } catch (error) {
      throw Object.assign(new Error(error.message), { name: "NoWebgl" });
    }
    try {
      return new Viewer(canvas, renderer, await new GLTFLoader().parseAsync(data, ""), about, onLost);
    } catch (error) {
      renderer.dispose();
      throw error;
    }
  }

  constructor(canvas, renderer, gltf, about, onLost) {
    const [{ userData: told }] = gltf.scene.children; // the node above both parts holds what is known of them
    Object.assign(this, { canvas, renderer, about, scene: new Scene(), places: new Map(), frame: 0, turning: 0 });
    const [lower, upper] = about.parts;
    this.meshes = about.parts.map((part) => told.meshes?.[part]);
    this.base = this.part(gltf, lower, ROSE);
    this.arch = this.part(gltf, upper, BONE, told.teeth.map((tooth) => tooth.depth_median_mm));
    this.marks = new Group(); // goes with the arch
    this.stops = new Group(); // stays with the base
    this.scene.add(this.base, this.arch, this.marks, this.stops);
    for (const one of told.teeth) this.mark(String(one.tooth || ""), one.point, HIGH);
    for (const one of told.connectors) this.mark(one.between.join("-"), one.point, 0);
    for (const [at, one] of (told.stops || []).entries()) this.stop(`stop-${at + 1}`, one);
    this.arch.geometry.computeBoundingSphere();
    this.whole = this.arch.geometry.boundingSphere;
    this.camera = new PerspectiveCamera((FOV * 180) / Math.PI, 1, 5, 1500);
    this.camera.up.set(0, 0, 1);
    this.controls = new OrbitControls(this.camera, canvas);
    Object.assign(this.controls, { enablePan: false, minDistance: 25, maxDistance: 600 });
    this.controls.addEventListener("change", () => this.draw());
    this.controls.addEventListener("start", () => cancelAnimationFrame(this.turning));
    this.lost = (event) => {
      event.preventDefault();
      onLost();
    };
    canvas.addEventListener("webglcontextlost", this.lost);
    this.watch = new ResizeObserver(() => this.fit());
    this.watch.observe(canvas.parentElement);
    this.follow();
    this.fit();
    this.stand(this.start());
  }

  // `crowns` are the numbers that crowns are tinted by, in the order of the teeth.
  part(gltf, name, own, crowns = []) {
    const { geometry } = gltf.scene.getObjectByName(name);
    const { _depth: depth, _gap: gap, _tooth: tooth } = geometry.attributes;
    const crown = Float32Array.from(tooth.array, (at) => crowns[at] ?? NONE);
    geometry.setAttribute("depth", depth);
    geometry.setAttribute("gap", gap);
    geometry.setAttribute("crown", new Float32BufferAttribute(crown, 1));
    return new Mesh(geometry, material(own));
  }

  // Crowns show their number, connectors only when they are picked.
  mark(place, [x, y, z], high) {
    const text = this.about.labels[place];
    const at = new Vector3(x, y, z + high);
    this.put(place, text, at, label(high && text ? text : "", "#ffffff"), this.marks);
  }

  // Where the arch is stopped a cross stands; seen from within the arch where that is the side.
  stop(place, { side, point }) {
    const text = this.about.labels[place];
    if (text) this.put(place, text, new Vector3(...point), label("✕", STOP, "#ffffff"), this.stops, side === "lingual");
  }

  put(place, text, at, plain, group, within = false) {
    const picked = label(text || "", "#fff3cf");
    picked.visible = false;
    picked.renderOrder = 3;
    if (group === this.stops) plain.renderOrder = 2;
    for (const sprite of [plain, picked]) {
      sprite.position.copy(at);
      group.add(sprite);
    }
    if (text) this.places.set(place, { at, plain, picked, group, within });
  }

  fit() {
    const { clientWidth: wide, clientHeight: high } = this.canvas.parentElement;
    if (!wide || !high) return;
    const ratio = Math.min(devicePixelRatio, 2);
    this.renderer.setPixelRatio(ratio);
    this.renderer.setSize(wide, high, false);
    this.camera.aspect = wide / high;
    this.camera.updateProjectionMatrix();
    for (const mesh of [this.base, this.arch]) mesh.material.uniforms.px.value = ratio;
    const px = ((2 * Math.tan(FOV / 2)) / high) * Math.min(Math.max(wide / 760, 0.75), 1.2);
    for (const { scale, userData } of [...this.marks.children, ...this.stops.children]) scale.set(userData.wide * px, userData.high * px, 1);
    this.draw();
  }

  draw() {
    this.frame ||= requestAnimationFrame(() => {
      this.frame = 0;
      this.renderer.render(this.scene, this.camera);
    });
  }

  // Where the camera stands about what it looks at: azimuth from the side of the viewer of a tooth chart.
  now() {
    const { position } = this.camera;
    const { target } = this.controls;
    const [x, y, z] = [position.x - target.x, position.y - target.y, position.z - target.z];
    return { target: target.clone(), azimuth: Math.atan2(x, -y), polar: Math.atan2(Math.hypot(x, y), z), far: Math.hypot(x, y, z) };
  }

  stand({ target, azimuth, polar, far }) {
    const low = Math.min(Math.max(polar, 0.01), Math.PI - 0.01);
    const across = Math.sin(low) * far;
    this.controls.target.copy(target);
    this.camera.position.set(
      target.x + across * Math.sin(azimuth), target.y - across * Math.cos(azimuth), target.z + Math.cos(low) * far);
    this.controls.update();
    this.draw();
  }

  turn(goal) {
    const from = this.now();
    cancelAnimationFrame(this.turning);
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) return this.stand(goal);
    const to = { ...goal, azimuth: turnBetween(from.azimuth, goal.azimuth) };
    let begun = 0;
    const step = (moment) => {
      begun ||= moment;
      const part = Math.min((moment - begun) / SPEED, 1);
      const mix = (a, b) => a + (b - a) * part * part * (3 - 2 * part);
      this.stand({
        target: from.target.clone().lerp(to.target, mix(0, 1)), azimuth: mix(from.azimuth, to.azimuth),
        polar: mix(from.polar, to.polar), far: mix(from.far, to.far),
      });
      if (part < 1) this.turning = requestAnimationFrame(step);
    };
    this.turning = requestAnimationFrame(step);
    return null;
  }

  distance(mm) {
    return mm / 2 / Math.tan(FOV / 2) / Math.min(this.camera.aspect, 1);
  }

  start() {
    return { target: this.whole.center.clone(), ...FROM_ABOVE, far: this.distance(1.9 * this.whole.radius) };
  }

  move(how) {
    const here = this.now();
    const by = (change) => this.turn({ ...here, ...change });
    if (how === "left") by({ azimuth: here.azimuth - STEP });
    else if (how === "right") by({ azimuth: here.azimuth + STEP });
    else if (how === "up") by({ polar: here.polar - STEP });
    else if (how === "down") by({ polar: here.polar + STEP });
    else if (how === "nearer") by({ far: here.far / 1.25 });
    else if (how === "further") by({ far: here.far * 1.25 });
    else this.turn(this.start());
  }

  // A place is looked at from outside the arch, a little from above.
  look(place) {
    for (const [name, { plain, picked }] of this.places) {
      plain.visible = name !== place;
      picked.visible = name === place;
    }
    const found = this.places.get(place);
    if (!found) return this.draw();
    const { center } = this.whole;
    const azimuth = Math.atan2(found.at.x - center.x, center.y - found.at.y) + (found.within ? Math.PI : 0);
    const polar = found.group === this.stops ? LOW : 1.1;
    return this.turn({ target: found.at.clone().add(found.group.position), azimuth, polar, far: this.distance(NEAR) });
  }

  lift(mm) {
    this.arch.position.z = mm;
    this.follow();
  }

  show(which) {
    const [lower, upper] = this.about.parts;
    this.arch.visible = which !== lower;
    this.base.visible = which !== upper;
    this.follow();
  }

  follow() {
    this.marks.position.z = this.arch.visible ? this.arch.position.z : 0;
    this.draw();
  }

  colour(kind) {
    for (const { material: { uniforms } } of [this.base, this.arch]) {
      uniforms.byGap.value = kind === "gap";
      uniforms.bounds.value = this.about.bounds[kind];
    }
    this.draw();
  }

  end() {
    cancelAnimationFrame(this.frame);
    cancelAnimationFrame(this.turning);
    this.watch.disconnect();
    this.canvas.removeEventListener("webglcontextlost", this.lost);
    this.controls.dispose();
    this.renderer.dispose();
  }
}
