// How a surface in three dimensions is drawn: in five bands with the patterns of the arch map, so that no colour is needed.

import { Color, DoubleSide, ShaderMaterial } from "/static/vendor/three-0.187.0.js";

export const INK = "#16302b";
const GROUNDS = ["#f7f2d8", "#e2e6bf", "#bcd0a6", "#93b593", "#93b593"];

const VERTEX = `
attribute float depth;
attribute float gap;
attribute float crown;
varying float vDepth;
varying float vGap;
varying float vCrown;
varying vec3 vTurned;
void main() {
  vDepth = depth;
  vGap = gap;
  vCrown = crown;
  vTurned = normalMatrix * normal;
  gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
}`;

// Below the margin bands with the patterns of the map, in px of the screen, and a line where bands meet; above it the
// part's own colour, a crown tinted by its tooth. Nothing faces a gap of 1 mm.
const FRAGMENT = `
uniform vec3 own;
uniform vec3 ink;
uniform vec3 grounds[5];
uniform float bounds[4];
uniform float px;
uniform bool byGap;
varying float vDepth;
varying float vGap;
varying float vCrown;
varying vec3 vTurned;
int bandOf(float value) {
  int band = 0;
  for (int i = 0; i < 4; i++) if (value >= bounds[i]) band++;
  return band;
}
float drawnIn(int band, vec2 at) {
  float dot = length(mod(at, 8.0) - 4.0);
  if (band == 1) return 1.0 - smoothstep(1.2, 2.0, dot);
  if (band == 2) return 1.0 - smoothstep(1.8, 2.8, mod(at.x + at.y, 12.0));
  if (band == 3) return 1.0 - smoothstep(4.4, 5.4, mod(at.x - at.y, 11.0));
  return band == 4 ? smoothstep(1.6, 2.4, dot) : 0.0;
}
vec3 groundOf(int band) {
  for (int i = 0; i < 4; i++) if (i == band) return grounds[i];
  return grounds[4];
}
float lineAt(float value, float bound) {
  return 1.0 - smoothstep(0.6, 1.6, abs(value - bound) / max(fwidth(value), 1e-6));
}
void main() {
  vec3 n = normalize(gl_FrontFacing ? vTurned : -vTurned);
  float light = 0.5 + 0.42 * max(dot(n, normalize(vec3(-0.4, 0.6, 0.7))), 0.0) + 0.12 * max(n.z, 0.0);
  vec2 at = gl_FragCoord.xy / px;
  float value = byGap ? vGap : vDepth;
  vec3 colour = own;
  float line = lineAt(vDepth, 0.0);
  if (vDepth >= 0.0 && !(byGap && vGap > 0.999)) {
    int band = bandOf(value);
    colour = mix(groundOf(band), ink, drawnIn(band, at));
    for (int i = 0; i < 4; i++) line = max(line, lineAt(value, bounds[i]));
  } else if (!byGap && vCrown > -1.0) {
    int band = bandOf(vCrown);
    colour = mix(mix(own, groundOf(band), 0.75), ink, 0.45 * drawnIn(band, at));
  }
  gl_FragColor = vec4(mix(colour * light, ink, line), 1.0);
  #include <colorspace_fragment>
}`;

export function material(own) {
  const colours = (ones) => ones.map((one) => new Color(one));
  const uniforms = {
    own: { value: new Color(own) }, ink: { value: new Color(INK) }, grounds: { value: colours(GROUNDS) },
    bounds: { value: [0, 0, 0, 0] }, px: { value: 1 }, byGap: { value: false },
  };
  return new ShaderMaterial({ vertexShader: VERTEX, fragmentShader: FRAGMENT, side: DoubleSide, uniforms });
}
