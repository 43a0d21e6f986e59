// The way to the desk: parts of what is shown come in, a few words go out; it comes back by itself.

const FIRST_WAIT = 300; // ms
const LONGEST_WAIT = 3000;

export class Feed {
  constructor(onParts) {
    this.onParts = onParts;
    this.wait = FIRST_WAIT;
    this.last = {};
  }

  open() {
    const address = new URL("feed", document.baseURI);
    address.protocol = address.protocol.replace("http", "ws");
    this.socket = new WebSocket(address);
    this.socket.onopen = () => {
      this.wait = FIRST_WAIT;
      if (this.last.letter) this.tell(this.last);
    };
    this.socket.onmessage = ({ data }) => this.onParts(JSON.parse(data));
    this.socket.onclose = () => {
      setTimeout(() => this.open(), this.wait);
      this.wait = Math.min(LONGEST_WAIT, 2 * this.wait);
    };
  }

  tell(words) {
    if (words.letter) this.last = words;
    if (this.socket?.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify(words));
  }
}
