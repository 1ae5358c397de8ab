// One moment that a panel's strips and its moving picture share, in milliseconds; none of them owns it.

export class Clock {
  now = 0;
  playing = false;
  #watchers = new Set();

  /** Call `watcher(now)` at every change of the moment. */
  watch(watcher) {
    this.#watchers.add(watcher);
  }

  set(now) {
    this.now = now;
    for (const watcher of this.#watchers) watcher(now);
  }
}
