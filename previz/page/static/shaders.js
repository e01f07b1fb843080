// What runs on the GPU. Pictures are rows from the top; the screen counts from the bottom.

export const SCREEN_VERTEX = `#version 300 es
out vec2 at;
void main() {
  vec2 corner = vec2(float((gl_VertexID << 1) & 2), float(gl_VertexID & 2));
  at = vec2(corner.x, 1.0 - corner.y);
  gl_Position = vec4(corner * 2.0 - 1.0, 0.0, 1.0);
}`;

const HEAD = `#version 300 es
precision highp float;
precision highp int;
precision highp sampler2D;
precision highp sampler2DArray;
precision highp sampler3D;
in vec2 at;
out vec4 shown;
`;

/** A linear picture as it is. */
export const COPY_SHADER = `${HEAD}
uniform sampler2D light;
void main() {
  shown = texelFetch(light, ivec2(gl_FragCoord.xy), 0);
}`;

/** Adds lamps, each through a matrix, to what is there; of every `stride`-th pixel alone. */
export function mixShader(count) {
  const lamps = Array.from({ length: count }, (_, i) =>
    `light += through[${i}] * texelFetch(lamps, ivec3(there, layer[${i}]), 0).rgb;`);
  return `${HEAD}
uniform sampler2DArray lamps;
uniform sampler2D before;
uniform bool fresh;
uniform int stride;
uniform mat3 through[${count}];
uniform int layer[${count}];
void main() {
  ivec2 here = ivec2(gl_FragCoord.xy);
  ivec2 there = min(here * stride + stride / 2, textureSize(lamps, 0).xy - 1);
  vec3 light = fresh ? vec3(0.0) : texelFetch(before, here, 0).rgb;
  ${lamps.join("\n  ")}
  shown = vec4(light, 1.0);
}`;
}

/** The same for lamps whose light is there in a small size only. */
export function coarseShader(count) {
  const lamps = Array.from({ length: count }, (_, i) =>
    `light += through[${i}] * texture(lamps, vec3(there, float(layer[${i}]))).rgb;`);
  return `${HEAD}
uniform sampler2DArray lamps;
uniform sampler2D before;
uniform bool fresh;
uniform int stride;
uniform vec2 size;
uniform mat3 through[${count}];
uniform int layer[${count}];
void main() {
  ivec2 here = ivec2(gl_FragCoord.xy);
  vec2 there = (min(vec2(here * stride + stride / 2), size - 1.0) + 0.5) / size;
  vec3 light = fresh ? vec3(0.0) : texelFetch(before, here, 0).rgb;
  ${lamps.join("\n  ")}
  shown = vec4(light, 1.0);
}`;
}

// Rows of a mixed picture lie in the order they were sent in, from the top.
const SOURCES = `
uniform sampler2D nowLight;
uniform sampler2D pinLight;
uniform mat3 nowMatrix;
uniform mat3 pinMatrix;
uniform vec3 nowLuma;
uniform vec3 pinLuma;
uniform vec2 nowPart;
uniform float wipe;
bool pinned() { return at.x < wipe; }
vec3 nowHere() { return texture(nowLight, at * nowPart).rgb; }
vec3 pinHere() { return texture(pinLight, at).rgb; }
vec3 lightHere() { return pinned() ? pinMatrix * pinHere() : nowMatrix * nowHere(); }
float lumaHere() { return pinned() ? dot(pinLuma, pinHere()) : dot(nowLuma, nowHere()); }
`;

const SHAPER_FLOOR = 1e-4;
const SHAPER_STOPS = 24;
export const CUBE = 40;

/**
 * The still, through the very transform that stills on disk go through; from nought on, `layer` is drawn
 * of that transform as a cube. One program does both, as nothing takes as long as to translate it.
 */
export function stillShader(view) {
  return `${HEAD}${SOURCES}${view.text}
uniform float layer;
vec3 cubeHere() {
  vec3 grid = vec3(gl_FragCoord.xy - 0.5, layer) / float(${CUBE - 1});
  return ${SHAPER_FLOOR} * (exp2(grid * float(${SHAPER_STOPS})) - 1.0);
}
void main() {
  vec3 light = layer < 0.0 ? lightHere() : cubeHere();
  shown = vec4(clamp(${view.function}(vec4(light, 1.0)).rgb, 0.0, 1.0), 1.0);
}`;
}

const QUICK = `
uniform sampler3D cube;
vec3 quickHere() {
  vec3 light = max(lightHere(), 0.0);
  vec3 grid = log2(light / float(${SHAPER_FLOOR}) + 1.0) / float(${SHAPER_STOPS});
  vec3 inside = (clamp(grid, 0.0, 1.0) * float(${CUBE - 1}) + 0.5) / float(${CUBE});
  return texture(cube, inside).rgb;
}
`;

/** The still through the cube: near enough under a moving hand. */
export const QUICK_SHADER = `${HEAD}${SOURCES}${QUICK}
void main() {
  shown = vec4(quickHere(), 1.0);
}`;

/**
 * Bands of stops: of the exposure, or of the difference from the pinned look. Mark 1 has lines, 2 dots; 3 is
 * the still in grey, through the cube.
 */
export function bandShader(most) {
  return `${HEAD}${SOURCES}${QUICK}
uniform float edges[${most}];
uniform vec3 colours[${most + 1}];
uniform int marks[${most + 1}];
uniform int count;
uniform vec3 luma;
uniform bool difference;
uniform float pitch;
uniform vec2 size;
bool inked(int mark, vec2 pixel) {
  if (mark == 1) return mod(pixel.x + pixel.y, pitch) < max(1.0, floor(pitch / 7.0 + 0.5));
  float dot_ = max(2.0, floor(pitch / 5.0 + 0.5));
  float shift = mod(floor(pixel.y / pitch), 2.0) * floor(pitch / 2.0);
  return mod(pixel.y, pitch) < dot_ && mod(pixel.x + shift, pitch) < dot_;
}
void main() {
  float value;
  if (difference) {
    float one = dot(nowLuma, nowHere());
    float other = dot(pinLuma, pinHere());
    value = other > 0.0 ? (one > 0.0 ? log2(one / other) : -99.0) : (one > 0.0 ? 99.0 : 0.0);
  } else {
    value = lumaHere();
  }
  int band = 0;
  for (int i = 0; i < ${most}; i++) if (i < count && value >= edges[i]) band = i + 1;
  vec2 pixel = floor(at * size);
  vec3 colour = colours[band];
  bool dark = colour.r + colour.g + colour.b < 1.505;
  if (marks[band] == 3) colour = vec3(dot(luma, quickHere()));
  else if (marks[band] > 0 && inked(marks[band], pixel)) colour = vec3((dark ? 150.0 : 112.0) / 255.0);
  shown = vec4(colour, 1.0);
}`;
}
