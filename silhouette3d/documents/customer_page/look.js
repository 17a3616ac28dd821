"use strict";

/* How a material looks. One shader for all: lights that go with the eye, and by number how much of
   a metal's mirror, of shine, of a wood's rings and of speckle there is. Light and colours are those
   of the still picture, so nothing here depends on how three.js handles colours. */

const VERTEX = `
varying vec3 towards;
varying vec3 facing;
varying vec3 inBlock;
void main() {
  vec4 seen = modelViewMatrix * vec4(position, 1.0);
  towards = -seen.xyz;
  facing = normalMatrix * normal;
  inBlock = position;
  gl_Position = projectionMatrix * seen;
}`;

const FRAGMENT = `
uniform vec3 colour;
uniform vec3 stripeColour;
uniform float metal, shine, rings, speckle, stripes, patternScale;
varying vec3 towards;
varying vec3 facing;
varying vec3 inBlock;

float scattered(vec3 p) {
  p = 17.0 * fract(p * 0.3183099 + 0.1);
  return fract(p.x * p.y * p.z * (p.x + p.y + p.z));
}

float noise(vec3 p) {
  vec3 cell = floor(p), f = fract(p);
  f = f * f * (3.0 - 2.0 * f);
  vec2 o = vec2(0.0, 1.0);
  return mix(
    mix(mix(scattered(cell + o.xxx), scattered(cell + o.yxx), f.x),
        mix(scattered(cell + o.xyx), scattered(cell + o.yyx), f.x), f.y),
    mix(mix(scattered(cell + o.xxy), scattered(cell + o.yxy), f.x),
        mix(scattered(cell + o.xyy), scattered(cell + o.yyy), f.x), f.y), f.z);
}

float lamp(vec3 n, vec3 from, float power) {
  return power * max(dot(n, normalize(from)), 0.0);
}

void main() {
  vec3 n = normalize(facing), eye = normalize(towards);
  vec3 p = inBlock * patternScale;

  float ring = length(p.yz + vec2(9.0, 14.0)) * 0.55 + 0.8 * noise(p * vec3(0.12, 0.5, 0.5));
  float grain = mix(abs(fract(ring) - 0.5) * 2.0, 0.5, clamp(fwidth(ring) * 1.5, 0.0, 1.0));
  float fibre = noise(p * vec3(0.7, 9.0, 9.0)) - 0.5;
  float dots = 0.6 * (noise(p * 6.0) - 0.5) + 0.4 * (noise(p * 15.0) - 0.5);
  vec3 base = colour * (1.0 + rings * (0.45 * (grain - 0.6) + 0.18 * fibre) + speckle * dots);

  float light = {{lamps}};
  vec3 mirror = reflect(-eye, n);
  float room = 0.42 + 0.55 * smoothstep(-0.5, 0.9, mirror.y)
    + 0.30 * smoothstep(0.35, 0.0, abs(mirror.x + 0.35)) * smoothstep(-0.2, 0.3, mirror.z);
  vec3 seen = base * mix(light, 0.45 * light + 0.62 * room, metal);

  vec3 halfway = normalize(eye + normalize({{key}}));
  float edgeOn = pow(1.0 - max(dot(n, eye), 0.0), 4.0);
  seen += shine * (0.30 * pow(max(dot(n, halfway), 0.0), 24.0) + 0.22 * edgeOn);

  float stripe = step(0.62, fract((gl_FragCoord.x + gl_FragCoord.y) / 14.0));
  seen = mix(seen, stripeColour * light, stripes * stripe);
  gl_FragColor = vec4(seen, 1.0);
}`;

/** A material for the faces of bodies. `patternScale` makes patterns as large on any part. */
function surface(look, patternScale) {
  return new THREE.ShaderMaterial({
    vertexShader: VERTEX,
    fragmentShader: FRAGMENT,
    uniforms: {
      colour: { value: new THREE.Vector3(...look.colour) },
      stripeColour: { value: new THREE.Vector3(...(look.stripe || look.colour)) },
      metal: { value: look.metal },
      shine: { value: look.shine },
      rings: { value: look.rings },
      speckle: { value: look.speckle },
      stripes: { value: look.stripe ? 1 : 0 },
      patternScale: { value: patternScale },
    },
    polygonOffset: true,
    polygonOffsetFactor: 1,
    polygonOffsetUnits: 1,
  });
}
