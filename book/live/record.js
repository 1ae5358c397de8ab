// The learner's record, kept in this browser. Where the browser refuses, the page works on and says so once.

const KEY = "vibrating-coil-course/record";
const ASIDE = `${KEY}/set-aside`;

export const REFUSED =
  "This browser does not keep your record (its storage is refused or full). You can work on; save the record to a file before you leave.";

export class Keeper {
  // `say(sentence)` shows a notice, or with "" takes it away. `changed(text)` is called when another tab wrote a record.
  constructor(say, changed) {
    this.say = say;
    this.text = this.read();
    addEventListener("storage", (event) => {
      if (event.key === KEY && event.newValue && event.newValue !== this.text) {
        this.text = event.newValue;
        changed(event.newValue);
      }
    });
  }

  read() {
    try {
      return localStorage.getItem(KEY);
    } catch {
      return null; // refused: the first write will say so
    }
  }

  // Keep the text for this page in any case: a worker started anew gets it from here.
  write(text) {
    this.text = text;
    try {
      localStorage.setItem(KEY, text);
      this.say("");
    } catch {
      this.say(REFUSED);
    }
  }

  // A kept record that the engine cannot read is set aside, not overwritten.
  setAside() {
    try {
      localStorage.setItem(ASIDE, this.text);
      localStorage.removeItem(KEY);
    } catch {
      // There is nowhere to put it; the notice about the record itself is shown anyhow.
    }
    this.text = null;
  }
}
