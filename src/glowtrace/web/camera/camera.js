// A camera's picture with what is computed and what is read laid over it. Pictures go to the server
// of this computer one after the other, at most two on the way; what was read is drawn over the very
// picture that it was read in, so that it lies right however the camera shakes. Lengths are mm on the screen, places on a picture are its pixels.

const ON_THE_WAY = 2;
const WIDEST = 1280; // pixels of a picture that is read
const OLD_MS = 400; // after that the camera is shown as it is, without an answer
const TELL_MS = 400;
const HALL_MS = 60; // between two pictures for the audience
const SILENT_MS = 2000; // without a picture, a camera stands still
const WHY = {
  NotAllowedError: "The camera was refused. Allow it for this page in the browser’s address bar, then start again.",
  NotFoundError: "No camera was found. Connect one, then start again.",
  OverconstrainedError: "This camera is gone. Start again with another one.",
  NotReadableError: "The camera is in use by another program, or did not answer. Close that program, then start again.",
  AbortError: "The camera is in use by another program, or did not answer. Close that program, then start again.",
};
const NOT_SECURE = "Browsers give a camera to a secure address only: open this page on the computer itself, as http://localhost.";

export default {
  template: `
    <div class="camera-face">
      <video ref="video" muted playsinline aria-hidden="true"></video>
      <canvas ref="canvas" tabindex="0" role="application" :aria-label="label"
        @pointerdown="onDown" @keydown="onKey" @focus="hasKeys = true" @blur="hasKeys = false"></canvas>
      <div class="row camera-keys">
        <button type="button" class="key is-main" @click="isOn ? stop() : start()">{{ isOn ? "Stop" : "Start the camera" }}</button>
        <select v-if="cameras.length > 1" class="picker" aria-label="Camera" v-model="chosen" @change="start()">
          <option v-for="each in cameras" :value="each.deviceId">{{ each.label }}</option>
        </select>
        <button type="button" class="key" :disabled="!isOn" @click="find">Find the grid</button>
        <button type="button" class="key" :disabled="!isOn" @click="click4">Click four crossings</button>
        <button type="button" class="key" :disabled="!isOn" @click="record(true)">{{ recorder ? "End the recording" : "Record with lines" }}</button>
        <button type="button" class="key" :disabled="!isOn || !!recorder" @click="record(false)">Record without</button>
      </div>
    </div>`,

  props: { label: String, feed: String, corners: Array, upload: String, hall: String },

  data() {
    return { isOn: false, cameras: [], chosen: "", recorder: null, hasKeys: false };
  },

  mounted() {
    Object.assign(this, { shown: {}, answer: null, answeredAt: 0, busy: 0, clicks: null, toldAt: 0 });
    this.context = this.$refs.canvas.getContext("2d");
    this.count = { sent: 0, answered: 0, ms: [] };
    this.draw();
  },

  unmounted() {
    this.stop();
    this.share(false);
  },

  methods: {
    // ---- what the page tells ---------------------------------------------------------------------

    put(shown) {
      const isOther = shown.reads !== this.shown.reads;
      this.shown = shown;
      if (isOther && this.isReady) this.wish({ do: shown.reads });
    },

    async hand() {
      // The picture as it is, without lines, for the careful reading of photographs.
      if (!this.isOn) return this.$emit("handed", "Start the camera first.");
      const canvas = document.createElement("canvas");
      [canvas.width, canvas.height] = this.size();
      canvas.getContext("2d").drawImage(this.$refs.video, 0, 0);
      const picture = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.95));
      try {
        const answer = await fetch(this.upload, { method: "POST", body: picture });
        this.$emit("handed", answer.ok ? "" : await answer.text());
      } catch {
        this.$emit("handed", "The picture could not be sent; is the program still running?");
      }
    },

    // ---- camera ----------------------------------------------------------------------------------

    async start() {
      this.stop();
      this.tell("");
      if (!window.isSecureContext || !navigator.mediaDevices?.getUserMedia) return this.tell(NOT_SECURE);
      // The camera’s own picture: a browser may else cut one of another shape to fit.
      const wanted = { width: { ideal: 1280 }, height: { ideal: 720 }, frameRate: { ideal: 30 }, resizeMode: { ideal: "none" } };
      if (this.chosen) wanted.deviceId = { exact: this.chosen };
      try {
        this.stream = await navigator.mediaDevices.getUserMedia({ video: wanted, audio: false });
      } catch (error) {
        this.chosen = ""; // it may be gone: then any other
        return this.tell(WHY[error.name] ?? `The camera did not start: ${error.message}`);
      }
      const video = this.$refs.video;
      video.srcObject = this.stream;
      this.stream.getVideoTracks()[0].addEventListener("ended", () => {
        if (!this.isOn) return;
        this.stop();
        this.tell("The camera was taken away: connect it, then start again.");
      });
      await video.play().catch(() => {});
      this.isOn = true;
      const all = await navigator.mediaDevices.enumerateDevices();
      this.cameras = all.filter((each) => each.kind === "videoinput");
      this.chosen = this.stream.getVideoTracks()[0].getSettings().deviceId ?? "";
      this.pictureAt = performance.now();
      this.watch = setInterval(() => this.look(), SILENT_MS / 2);
      this.connect();
      this.next();
    },

    // A picture that stands still must not look as if it were read.
    look() {
      if (document.hidden) this.pictureAt = performance.now();
      if (performance.now() - this.pictureAt < SILENT_MS) return;
      this.answer = null;
      this.draw();
      this.tell("The camera gives no pictures any more: stop, look after it, and start again.");
    },

    stop() {
      this.recorder?.stop();
      clearInterval(this.watch);
      this.isOn = false;
      this.socket?.close();
      this.stream?.getTracks().forEach((track) => track.stop());
      Object.assign(this, { socket: null, stream: null, answer: null, clicks: null, busy: 0, isReady: false });
    },

    socketTo(path) {
      return new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}${path}`);
    },

    connect() {
      const socket = this.socketTo(this.feed);
      socket.onmessage = (event) => socket === this.socket && this.hear(JSON.parse(event.data));
      socket.onclose = () => {
        if (socket !== this.socket) return;
        this.socket = null;
        if (this.isOn && !this.isRefused) this.tell("Reading stopped; is the program still running? Stop and start again.");
      };
      Object.assign(this, { socket, isRefused: false, isReady: false, busy: 0, sent: [], read: null });
      this.free = Array.from({ length: ON_THE_WAY + 1 }, () => document.createElement("canvas"));
      this.tell("Getting ready to read …");
    },

    hear(answer) {
      if (answer.state === "ready") {
        this.isReady = true;
        if (this.shown.reads) this.wish({ do: this.shown.reads });
        return this.tell("Find the grid, or click four crossings of it.");
      }
      if (answer.state === "refused") this.isRefused = true;
      this.answer = answer;
      this.answeredAt = performance.now();
      if (this.isRefused) this.draw();
      else {
        this.busy = Math.max(0, this.busy - 1);
        const { at, picture } = this.sent.shift();
        if (this.read) this.free.push(this.read);
        this.read = picture;
        this.draw();
        this.count.answered += 1;
        this.count.ms.push(performance.now() - at);
        if (this.count.ms.length > 600) this.count.ms.shift();
      }
      this.report(answer);
    },

    report(answer) {
      const now = performance.now();
      const isNews = answer.says || answer.state !== this.lastState;
      if (!isNews && now - this.toldAt < TELL_MS) return;
      this.toldAt = now;
      this.lastState = answer.state;
      const { state, says, trust, shape, u, v, radius, rate } = answer;
      this.$emit("read", { state, says, trust, shape, u, v, radius, rate });
    },

    tell(says) {
      this.lastState = "";
      this.$emit("read", { state: "told", says });
    },

    size() {
      const video = this.$refs.video;
      return [video.videoWidth || 1280, video.videoHeight || 720];
    },

    next() {
      if (!this.isOn) return;
      const video = this.$refs.video;
      // Counted from when the camera gave the picture, where the browser tells that.
      if (video.requestVideoFrameCallback) video.requestVideoFrameCallback((now, about) => this.onPicture(about.captureTime ?? now));
      else setTimeout(() => this.onPicture(performance.now()), 33);
    },

    onPicture(at) {
      if (!this.isOn) return;
      this.pictureAt = performance.now();
      this.draw();
      this.send(at);
      this.next();
    },

    send(at) {
      if (!this.isReady || this.socket?.readyState !== 1 || this.busy >= ON_THE_WAY) return;
      const [width, height] = this.size();
      const share = Math.min(1, WIDEST / width);
      const picture = this.free.pop();
      picture.width = Math.round(width * share);
      picture.height = Math.round(height * share);
      picture.getContext("2d").drawImage(this.$refs.video, 0, 0, picture.width, picture.height);
      const { socket } = this;
      this.busy += 1;
      picture.toBlob((content) => {
        if (socket !== this.socket || !content) return;
        this.sent.push({ at, picture });
        this.count.sent += 1;
        socket.send(content);
      }, "image/jpeg", 0.85);
    },

    // ---- the audience ----------------------------------------------------------------------------

    share(isWanted) {
      this.way?.close();
      this.way = isWanted ? this.socketTo(this.hall) : null;
      this.sharedAt = 0;
    },

    // Sends what is shown, if the last picture has gone out.
    shareNow() {
      const way = this.way;
      if (!this.isOn || way?.readyState !== 1 || way.bufferedAmount || performance.now() - this.sharedAt < HALL_MS) return;
      this.sharedAt = performance.now();
      this.$refs.canvas.toBlob((content) => content && way.readyState === 1 && way.send(content), "image/jpeg", 0.8);
    },

    // ---- the screen ------------------------------------------------------------------------------

    wish(wish) {
      if (this.socket?.readyState === 1) this.socket.send(JSON.stringify(wish));
    },

    find() {
      this.clicks = null;
      this.tell("Looking for the grid …");
      this.wish({ do: "find" });
    },

    click4() {
      const [width, height] = this.size();
      this.clicks = [];
      this.cross = [width / 2, height / 2];
      this.wish({ do: "forget" });
      this.$refs.canvas.focus();
      this.ask();
    },

    ask() {
      this.tell(`Click the crossing at ${this.corners[this.clicks.length]} (${this.clicks.length + 1} of 4).`);
    },

    place(at) {
      if (!this.clicks) return;
      this.clicks.push(at);
      if (this.clicks.length < 4) return this.ask();
      const share = Math.min(1, WIDEST / this.size()[0]);
      const clicks = this.clicks.map((each) => each.map((x) => Math.round(100 * share * x) / 100));
      this.clicks = null;
      this.tell("Fixing the screen …");
      this.wish({ do: "clicks", clicks });
    },

    onDown(event) {
      if (!this.clicks || event.button) return;
      const box = this.$refs.canvas.getBoundingClientRect();
      const share = this.size()[0] / box.width;
      this.place([(event.clientX - box.left) * share - 0.5, (event.clientY - box.top) * share - 0.5]);
    },

    onKey(event) {
      if (!this.clicks) return;
      const step = event.shiftKey ? 20 : 2;
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (way) this.cross = this.cross.map((x, n) => Math.min(Math.max(x + step * way[n], 0), this.size()[n] - 1));
      else if (event.key === "Enter") this.place([...this.cross]);
      else if (event.key === "Escape") this.clicks = null;
      else return;
      event.preventDefault();
    },

    // ---- recording -------------------------------------------------------------------------------

    record(hasLines) {
      if (this.recorder) return this.recorder.stop();
      if (!window.MediaRecorder) return this.tell("This browser cannot record.");
      const kind = ["video/mp4", "video/webm;codecs=vp9", "video/webm"].find((each) => MediaRecorder.isTypeSupported(each)) ?? "";
      const stream = hasLines ? this.$refs.canvas.captureStream(30) : this.stream;
      const parts = [];
      const recorder = new MediaRecorder(stream, { mimeType: kind, videoBitsPerSecond: 12e6 });
      recorder.ondataavailable = (event) => event.data.size && parts.push(event.data);
      recorder.onstop = () => {
        this.recorder = null;
        const link = document.createElement("a");
        link.href = URL.createObjectURL(new Blob(parts, { type: kind }));
        link.download = `camera.${kind.includes("mp4") ? "mp4" : "webm"}`;
        link.click();
        setTimeout(() => URL.revokeObjectURL(link.href), 60000);
      };
      recorder.start(1000);
      this.recorder = recorder;
    },

    // ---- drawing ---------------------------------------------------------------------------------

    // Where a place in mm is seen, in pixels of the shown picture: the map of photographs.
    onPicturePixel(map, [u, v]) {
      const a = (u / 1e3 - map.origin[0]) / map.spread;
      const b = (v / 1e3 - map.origin[1]) / map.spread;
      const h = map.numbers;
      const w = h[6] * a + h[7] * b + h[8];
      const x = (h[0] * a + h[1] * b + h[2]) / w;
      const y = (h[3] * a + h[4] * b + h[5]) / w;
      const [width, height] = map.size;
      const bent = (Math.hypot(width, height) / 2) * (1 + map.bend * (x * x + y * y));
      const share = this.size()[0] / width;
      return [((x * bent + (width - 1) / 2) + 0.5) * share, ((y * bent + (height - 1) / 2) + 0.5) * share];
    },

    draw() {
      const canvas = this.$refs.canvas;
      const [width, height] = this.size();
      if (canvas.width !== width) canvas.width = width;
      if (canvas.height !== height) canvas.height = height;
      canvas.style.setProperty("--ratio", width / height);
      const context = this.context;
      if (!this.isOn) {
        context.fillStyle = "#14120f";
        return context.fillRect(0, 0, width, height);
      }
      const scale = width / 1280;
      const answer = this.answer;
      canvas.glowtrace = { state: answer?.state ?? "", rate: answer?.rate ?? 0, ...this.count };
      const isFresh = answer?.state === "followed" && performance.now() - this.answeredAt < OLD_MS;
      context.drawImage(isFresh ? this.read : this.$refs.video, 0, 0, width, height);
      if (isFresh) this.drawLines(context, answer, scale);
      this.drawWords(context, scale);
      if (this.clicks) this.drawClicks(context, scale);
      this.shareNow();
    },

    drawLines(context, answer, scale) {
      const { outline, crossings, band, textbook, computed } = this.shown;
      const on = (points) => (points ?? []).map((each) => each && this.onPicturePixel(answer.map, each));
      const edge = on(outline);
      this.line(context, edge.concat(edge.slice(0, 1)), "rgb(240 223 194 / 70%)", 1.2 * scale);
      context.fillStyle = "rgb(240 223 194 / 80%)";
      for (const [x, y] of on(crossings)) context.fillRect(x - scale, y - scale, 2 * scale, 2 * scale);
      const around = on(band);
      if (around.length) {
        context.beginPath();
        around.forEach((each, n) => context[n ? "lineTo" : "moveTo"](...each));
        context.fillStyle = "rgb(255 176 64 / 22%)";
        context.fill();
      }
      const lines = [on(textbook), on(computed)].map((points) => (points.length === 1 ? this.cross(points[0], 12 * scale) : points));
      this.line(context, lines[0], "#f0dfc2", 2 * scale, [10 * scale, 8 * scale]);
      this.line(context, lines[1], "#000", 5 * scale);
      this.line(context, lines[1], "#ffb040", 2.5 * scale);
      const read = answer.u.map((u, n) => (answer.v[n] === null ? null : [u, answer.v[n]]));
      context.fillStyle = "#ff9fd0";
      for (const each of on(read)) {
        if (each) context.fillRect(each[0] - 1.6 * scale, each[1] - 1.6 * scale, 3.2 * scale, 3.2 * scale);
      }
      if (answer.shape === "spot" && read.length) {
        const turns = Array.from({ length: 49 }, (_, n) => (n * Math.PI) / 24);
        const [[u, v], [radius]] = [read[0], answer.radius];
        this.line(context, on(turns.map((turn) => [u + radius * Math.cos(turn), v + radius * Math.sin(turn)])), "#ff9fd0", 2 * scale);
      }
    },

    // A single place, drawn as a cross.
    cross(at, half) {
      if (!at) return [];
      const [x, y] = at;
      return [[x - half, y - half], [x + half, y + half], null, [x - half, y + half], [x + half, y - half]];
    },

    line(context, points, colour, width, dash = []) {
      context.beginPath();
      let isUp = true;
      for (const point of points) {
        if (point) context[isUp ? "moveTo" : "lineTo"](...point);
        isUp = !point;
      }
      context.setLineDash(dash);
      context.lineWidth = width;
      context.strokeStyle = colour;
      context.stroke();
      context.setLineDash([]);
    },

    drawWords(context, scale) {
      const { says = [], legend = [] } = this.shown;
      const rows = [...says.map((text) => [text, "#f0dfc2"]), ...(this.answer?.state === "followed" ? legend : [])];
      if (this.answer?.state === "lost") rows.push(["The map does not fit: the camera moved. Nothing is read.", "#ff9d76"]);
      // Large enough on the page too, where the picture is shown small.
      const letters = Math.max(22 * scale, (13 * this.size()[0]) / this.$refs.canvas.clientWidth);
      const high = 1.36 * letters;
      context.font = `500 ${letters}px Glowtrace, sans-serif`;
      rows.forEach(([text, colour], n) => {
        const top = 8 * scale + n * high;
        context.fillStyle = "rgb(10 9 8 / 70%)";
        context.fillRect(8 * scale, top, context.measureText(text).width + 16 * scale, high);
        context.fillStyle = colour;
        context.fillText(text, 16 * scale, top + letters);
      });
    },

    drawClicks(context, scale) {
      const marks = this.hasKeys ? [...this.clicks, this.cross] : this.clicks;
      context.strokeStyle = "#ff9d76";
      context.lineWidth = 2 * scale;
      for (const [x, y] of marks) {
        context.beginPath();
        context.moveTo(x - 14 * scale, y), context.lineTo(x + 14 * scale, y);
        context.moveTo(x, y - 14 * scale), context.lineTo(x, y + 14 * scale);
        context.stroke();
      }
    },
  },
};
