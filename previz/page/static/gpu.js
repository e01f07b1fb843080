// Plain dealings with WebGL 2: programs, textures, targets, and waiting for them.

import { SCREEN_VERTEX } from "./shaders.js";

export class Gpu {
  /** `format` is that of sums of light: RGBA32F where the machine can draw into it, else RGBA16F. */
  constructor(gl, format) {
    this.gl = gl;
    this.format = format;
    this.programs = new Map();
    this.lost = false;
  }

  /** A program by its name, made when it is first needed, and where its uniforms are. */
  program(name, fragment) {
    if (this.programs.has(name)) return this.programs.get(name);
    const gl = this.gl, made = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, SCREEN_VERTEX], [gl.FRAGMENT_SHADER, fragment]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(made, shader);
      if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS) && !gl.isContextLost())
        throw new Error(`${name}: ${gl.getShaderInfoLog(shader)}`);
    }
    gl.linkProgram(made);
    if (!gl.getProgramParameter(made, gl.LINK_STATUS) && !gl.isContextLost())
      throw new Error(`${name}: ${gl.getProgramInfoLog(made)}`);
    const places = new Map();
    const at = (uniform) => {
      if (!places.has(uniform)) places.set(uniform, gl.getUniformLocation(made, uniform));
      return places.get(uniform);
    };
    this.programs.set(name, { made, at });
    return this.programs.get(name);
  }

  texture(target, filter = this.gl.NEAREST) {
    const gl = this.gl, made = gl.createTexture();
    gl.activeTexture(gl.TEXTURE15);
    gl.bindTexture(target, made);
    for (const key of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(target, key, filter);
    for (const key of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(target, key, gl.CLAMP_TO_EDGE);
    return made;
  }

  tableTexture(table) {
    const gl = this.gl, made = this.texture(gl.TEXTURE_2D);
    const [inside, outside] = table.channels === 1 ? [gl.R32F, gl.RED] : [gl.RGB32F, gl.RGB];
    gl.texImage2D(gl.TEXTURE_2D, 0, inside, table.width, table.height, 0, outside, gl.FLOAT,
      new Float32Array(table.values));
    return { sampler: table.sampler, texture: made, target: gl.TEXTURE_2D };
  }

  /** A cube of colours, in floats as it was read. */
  cubeTexture(cube) {
    const gl = this.gl, made = this.texture(gl.TEXTURE_3D), { edge } = cube;
    gl.texParameteri(gl.TEXTURE_3D, gl.TEXTURE_WRAP_R, gl.CLAMP_TO_EDGE);
    const bytes = Uint8Array.from(atob(cube.floats), (letter) => letter.charCodeAt(0));
    gl.texImage3D(gl.TEXTURE_3D, 0, gl.RGB32F, edge, edge, edge, 0, gl.RGB, gl.FLOAT,
      new Float32Array(bytes.buffer));
    return { sampler: cube.sampler, texture: made, target: gl.TEXTURE_3D };
  }

  target(width, height) {
    const gl = this.gl, texture = this.texture(gl.TEXTURE_2D);
    gl.texStorage2D(gl.TEXTURE_2D, 1, this.format, width, height);
    const frame = gl.createFramebuffer();
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, texture, 0);
    if (gl.checkFramebufferStatus(gl.FRAMEBUFFER) !== gl.FRAMEBUFFER_COMPLETE && !gl.isContextLost())
      throw new Error("the GPU cannot draw into floats");
    return { texture, frame, width, height };
  }

  freed(target) {
    if (!target) return;
    this.gl.deleteTexture(target.texture);
    if (target.frame) this.gl.deleteFramebuffer(target.frame);
  }

  bind(place, unit, target, texture) {
    const gl = this.gl;
    gl.activeTexture(gl.TEXTURE0 + unit);
    gl.bindTexture(target, texture);
    gl.uniform1i(place, unit);
  }

  /** A texture to bind where none is read. */
  nothing() {
    if (!this.blank) {
      this.blank = this.texture(this.gl.TEXTURE_2D);
      this.gl.texStorage2D(this.gl.TEXTURE_2D, 1, this.gl.RGBA16F, 1, 1);
    }
    return this.blank;
  }

  /** Resolves when what was drawn so far is done. */
  drawn() {
    const gl = this.gl, fence = gl.fenceSync(gl.SYNC_GPU_COMMANDS_COMPLETE, 0);
    gl.flush();
    return new Promise((resolve) => {
      const look = () => {
        const state = this.lost ? gl.CONDITION_SATISFIED : gl.clientWaitSync(fence, 0, 0);
        if (state === gl.TIMEOUT_EXPIRED) setTimeout(look, 1);
        else {
          gl.deleteSync(fence);
          resolve();
        }
      };
      look();
    });
  }

  read(width, height) {
    const codes = new Uint8Array(4 * width * height);
    this.gl.readPixels(0, 0, width, height, this.gl.RGBA, this.gl.UNSIGNED_BYTE, codes);
    return codes;
  }
}
