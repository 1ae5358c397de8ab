// The learner's record, kept in this browser: the one in use, and one for each other nickname that was used here.
// Where the browser refuses, the page works on and says so.

const KEY = "vibrating-coil-course/record";
const KEY_OF = (nickname) => `${KEY}/of/${nickname.toLowerCase()}`;
const ASIDE = `${KEY}/not-readable`;

export const REFUSED =
  "This browser does not keep your record (its storage is refused or full). You can work on; save the record to a file before you leave.";

export class Keeper {
  // `say(sentence)` shows a notice, or with "" takes it away; `changed(text)` hears of a record written by another tab.
  constructor(say, changed) {
    this.say = say;
    this.text = read(KEY);
    addEventListener("storage", (event) => {
      if (event.key !== KEY || !event.newValue || event.newValue === this.text) return;
      this.text = event.newValue;
      changed(event.newValue);
    });
  }

  // Keep a record: in this page in any case (a worker started anew gets it from here), and in the browser if it lets us.
  // Another learner's record is not overwritten by it.
  write(record) {
    const before = this.text;
    this.text = JSON.stringify(record);
    try {
      const other = nicknameIn(before);
      if (other !== null && KEY_OF(other) !== KEY_OF(record.nickname)) localStorage.setItem(KEY_OF(other), before);
      localStorage.setItem(KEY, this.text);
      this.say("");
    } catch {
      this.say(REFUSED);
    }
  }

  // The record kept under the nickname of this one, if this one is blank; else null.
  earlier({ nickname, exercises }) {
    return Object.keys(exercises ?? {}).length ? null : read(KEY_OF(nickname));
  }

  // The kept record cannot be read: set it aside, so that the next one does not overwrite it.
  setAside() {
    try {
      localStorage.setItem(ASIDE, this.text);
      localStorage.removeItem(KEY);
    } catch {
      // Nowhere to put it, but then nothing will overwrite it either.
    }
    this.text = null;
  }
}

function read(key) {
  try {
    return localStorage.getItem(key);
  } catch {
    return null; // refused; the first write will say so
  }
}

function nicknameIn(text) {
  try {
    return JSON.parse(text)?.nickname ?? null;
  } catch {
    return null;
  }
}
