// Light on the screen: electrons' landings or paths become a soft glow.
//
// The light is summed in a float buffer whose pixel follows the phosphor's blur (in mm), so that
// the cost of a frame and the smoothness of the glow do not depend on the zoom. Only the part of
// the canvas that is lit is summed and blurred; only then is it given a colour.

const BLUR_STEPS = 3; // three running means of three pixels: a Gaussian of sigma = sqrt(2) pixels
const SIGMA_PIXELS = Math.SQRT2;
const FULL_SCALE = 32767; // of the 16-bit numbers, which reach from edge to edge of the box
const HALO_PIXELS = 9; // CSS pixels in one of the halo's
const INK_SHARE = 0.4; // of the glow's own colour
export const PEN_UP = -32768;

export function decodePairs(text) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  return new Int16Array(bytes.buffer);
}

// From the 16-bit numbers of a picture to mm.
export function unpack({ box_mm: [u0, u1, v0, v1] }) {
  const share = (q) => (q + FULL_SCALE) / (2 * FULL_SCALE);
  return { u: (q) => u0 + share(q) * (u1 - u0), v: (q) => v0 + share(q) * (v1 - v0) };
}

export class Light {
  constructor() {
    this.canvas = document.createElement("canvas");
    this.halo = document.createElement("canvas");
  }

  rampOf(glow, isInk) {
    if (this.glow !== glow || this.isInk !== isInk) {
      [this.glow, this.isInk] = [glow, isInk];
      this.ramp = isInk ? inkRamp(glow) : colourRamp(glow);
    }
    return this.ramp;
  }

  // Draws a picture's light onto the canvas; `place` is the screen's layout, `ratio` the device
  // pixels in a CSS pixel. As ink it darkens a light ground.
  draw(context, place, ratio, picture, surface, isInk = false) {
    const pixel = Math.max(1 / ratio, (surface.blur_mm * place.scale) / SIGMA_PIXELS); // CSS px
    const frame = lightFrame(picture, place, pixel);
    if (!frame) return;
    const light = this.empty(frame);
    // Light per mm2 (dots) or per mm along and across (lines), whatever the pixel's size is.
    const size = pixel / place.scale;
    if (picture.kind === "dots") addDots(light, frame, picture, picture.weight / size ** 2);
    else addLines(light, frame, picture, picture.weight / size);
    for (let i = 0; i < BLUR_STEPS; i++) {
      blurRows(light, frame.width, frame.height);
      blurColumns(light, frame.width, frame.height, this.rowBefore, this.rowHere);
    }
    const { half_light: half, share } = { ...surface, share: 1, ...picture.room };
    const ramp = this.rampOf(surface.glow, isInk);
    context.globalCompositeOperation = isInk ? "multiply" : "lighter";
    this.paint(context, light, frame, pixel, ramp, half, share);
    context.globalCompositeOperation = "source-over";
  }

  empty({ width, height }) {
    if (!(this.light?.length >= width * height)) this.light = new Float32Array(width * height);
    if (!(this.rowBefore?.length >= width)) {
      this.rowBefore = new Float32Array(width);
      this.rowHere = new Float32Array(width);
    }
    const light = this.light.subarray(0, width * height);
    light.fill(0);
    return light;
  }

  // Response of an eye, light / (light + half): faint parts show, the core saturates. In a lit
  // room the trace has a share of the full scale only, above the light of the screen.
  paint(context, light, { left, upper, width, height }, pixel, ramp, half, share) {
    const lightCanvas = this.canvas;
    if (lightCanvas.width < width) lightCanvas.width = width;
    if (lightCanvas.height < height) lightCanvas.height = height;
    const pixels = new ImageData(width, height);
    const words = new Uint32Array(pixels.data.buffer);
    for (let i = 0; i < light.length; i++) {
      const value = light[i];
      if (value > half * 0.004) words[i] = ramp[((255 * value) / (value + half)) | 0];
    }
    const drawn = lightCanvas.getContext("2d", { willReadFrequently: true });
    // Smoothing looks past the edge: what an earlier, larger light left there would shine again.
    drawn.clearRect(0, 0, lightCanvas.width, lightCanvas.height);
    drawn.putImageData(pixels, 0, 0);
    const place = [left * pixel, upper * pixel, width * pixel, height * pixel];
    context.imageSmoothingQuality = "medium";
    context.globalAlpha = share;
    context.drawImage(lightCanvas, 0, 0, width, height, ...place);
    this.drawHalo(context, width, height, place, Math.max(1, HALO_PIXELS / pixel), share);
  }

  // Light scattered in the glass: the picture again, shrunk, so that enlarging it blurs it.
  drawHalo(context, width, height, [x, y, wide, high], shrink, share) {
    const halo = this.halo;
    // A border of two pixels keeps the blur from ending at a hard edge.
    const [across, up] = [Math.ceil(width / shrink) + 4, Math.ceil(height / shrink) + 4];
    [halo.width, halo.height] = [across, up];
    const small = halo.getContext("2d", { willReadFrequently: true });
    small.imageSmoothingQuality = "medium";
    small.drawImage(this.canvas, 0, 0, width, height, 2, 2, width / shrink, height / shrink);
    const [sx, sy] = [(wide / width) * shrink, (high / height) * shrink];
    context.globalAlpha = 0.35 * share;
    context.drawImage(halo, x - 2 * sx, y - 2 * sy, across * sx, up * sy);
    context.globalAlpha = 1;
  }
}

// The part of the canvas that is lit, in pixels of the light, and where 16-bit numbers fall
// in it: column = ax q + bx, row = ay q + by. Null where nothing is lit.
function lightFrame(picture, place, pixel) {
  const { pairs } = picture;
  let [low, high, bottom, top] = [Infinity, -Infinity, Infinity, -Infinity];
  for (let i = 0; i < pairs.length; i += 2) {
    if (pairs[i] === PEN_UP) continue;
    if (pairs[i] < low) low = pairs[i];
    if (pairs[i] > high) high = pairs[i];
    if (pairs[i + 1] < bottom) bottom = pairs[i + 1];
    if (pairs[i + 1] > top) top = pairs[i + 1];
  }
  const { u, v } = unpack(picture);
  const [bx, by] = [place.x(u(0)) / pixel, place.y(v(0)) / pixel];
  const [ax, ay] = [place.x(u(1)) / pixel - bx, place.y(v(1)) / pixel - by];
  const room = BLUR_STEPS + 2;
  const range = (p, q, size) => [
    Math.max(0, Math.floor(Math.min(p, q)) - room),
    Math.min(Math.ceil(size / pixel), Math.ceil(Math.max(p, q)) + room),
  ];
  const [left, right] = range(ax * low + bx, ax * high + bx, place.width);
  const [upper, lower] = range(ay * top + by, ay * bottom + by, place.height);
  if (!(right > left && lower > upper)) return null;
  return { left, upper, width: right - left, height: lower - upper, ax, bx: bx - left, ay, by: by - upper };
}

function addDots(light, { width, height, ax, bx, ay, by }, picture, weight) {
  const { pairs } = picture;
  for (let i = 0; i < pairs.length; i += 2) {
    if (pairs[i] === PEN_UP) continue;
    addLight(light, width, height, ax * pairs[i] + bx, ay * pairs[i + 1] + by, weight);
  }
}

function addLines(light, { width, height, ax, bx, ay, by }, picture, weight) {
  const { pairs, points } = picture;
  for (let path = 0; path < pairs.length; path += 2 * points) {
    let [lastX, lastY] = [NaN, NaN];
    for (let i = path; i < path + 2 * points; i += 2) {
      const isUp = pairs[i] === PEN_UP; // the electron has ended or left the view
      const x = isUp ? NaN : ax * pairs[i] + bx;
      const y = isUp ? NaN : ay * pairs[i + 1] + by;
      const length = Math.hypot(x - lastX, y - lastY);
      if (length > 0) {
        const steps = Math.ceil(length);
        for (let k = 0; k < steps; k++) {
          const part = (k + 0.5) / steps;
          addLight(light, width, height, lastX + (x - lastX) * part, lastY + (y - lastY) * part,
            (weight * length) / steps);
        }
      }
      [lastX, lastY] = [x, y];
    }
  }
}

// Shares one electron's light among the four nearest pixels.
function addLight(light, width, height, x, y, weight) {
  const col = Math.floor(x - 0.5);
  const row = Math.floor(y - 0.5);
  if (col < 0 || row < 0 || col >= width - 1 || row >= height - 1) return;
  const right = x - 0.5 - col;
  const down = y - 0.5 - row;
  const i = row * width + col;
  light[i] += weight * (1 - right) * (1 - down);
  light[i + 1] += weight * right * (1 - down);
  light[i + width] += weight * (1 - right) * down;
  light[i + width + 1] += weight * right * down;
}

function blurRows(light, width, height) {
  for (let row = 0; row < height; row++) {
    let i = row * width;
    const end = i + width - 1;
    let before = 0;
    let here = light[i];
    for (; i < end; i++) {
      const after = light[i + 1];
      light[i] = (before + here + after) / 3;
      before = here;
      here = after;
    }
    light[end] = (before + here) / 3;
  }
}

function blurColumns(light, width, height, before, here) {
  before.fill(0);
  here.set(light.subarray(0, width));
  for (let row = 0; row < height; row++) {
    const start = row * width;
    const next = row + 1 < height ? start + width : -1;
    for (let col = 0; col < width; col++) {
      const after = next < 0 ? 0 : light[next + col];
      light[start + col] = (before[col] + here[col] + after) / 3;
      before[col] = here[col];
      here[col] = after;
    }
  }
}

// 256 colours from dark to the glow's own colour and on to a white core.
function colourRamp([red, green, blue]) {
  const ramp = new Uint32Array(256);
  for (let i = 0; i < 256; i++) {
    const level = i / 255;
    const tint = Math.min(1, level * 1.25);
    const core = Math.max(0, (level - 0.62) / 0.38) ** 1.6;
    const mix = (c) => Math.round(255 * Math.min(1, tint * (c / 255 + (1 - c / 255) * core)));
    ramp[i] = (255 << 24) | (mix(blue) << 16) | (mix(green) << 8) | mix(red);
  }
  return ramp;
}

// The same as ink: from none to a dark tint of the glow and on to a nearly black core.
function inkRamp(glow) {
  const ramp = new Uint32Array(256);
  for (let i = 0; i < 256; i++) {
    const level = i / 255;
    const tint = Math.min(1, level * 1.25);
    const core = 1 - 0.8 * Math.max(0, (level - 0.62) / 0.38);
    const [red, green, blue] = glow.map((c) => Math.round(255 - tint * (255 - INK_SHARE * core * c)));
    ramp[i] = (255 << 24) | (blue << 16) | (green << 8) | red;
  }
  return ramp;
}
