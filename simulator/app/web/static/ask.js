// Questions to the server: answers come line by line, and what is out of date is let go.

export const page = crypto.randomUUID?.() ?? String(Math.random()).slice(2);

export async function lines(path, view, take, signal) {
  const answer = await fetch(path, {
    method: "POST", signal, headers: { "content-type": "application/json" },
    body: JSON.stringify({ view, page }),
  });
  if (!answer.ok) {
    take(await refusalOf(answer));
    return;
  }
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return;
    const found = (rest + value).split("\n");
    rest = found.pop();
    for (const line of found) if (line) take(JSON.parse(line));
  }
}

export async function refusalOf(answer) {
  try {
    return await answer.clone().json();
  } catch {
    return { step: "refused", problem: (await answer.text()) || `The server said ${answer.status}.` };
  }
}

// Asks about the newest view: while a coarse picture is on its way a newer question waits for it,
// so that pictures keep coming as a slider moves; after it the older answer is let go.
export class Asker {
  constructor(path, take, failed) {
    Object.assign(this, { path, take, failed, running: null, waiting: null });
  }

  ask(view) {
    if (this.running && !this.running.shown) {
      this.waiting = view;
      return;
    }
    this.start(view);
  }

  start(view) {
    this.running?.stop.abort();
    const mine = { stop: new AbortController(), shown: false, begun: performance.now() };
    this.running = mine;
    this.waiting = null;
    const take = (row) => {
      if (this.running !== mine) return;
      this.take(row, performance.now() - mine.begun);
      if (row.step !== "opened") this.seen(mine);
    };
    lines(this.path, view, take, mine.stop.signal)
      .catch((error) => { if (error.name !== "AbortError") this.failed(error); })
      .finally(() => { this.seen(mine); });
  }

  seen(mine) {
    if (this.running !== mine) return;
    mine.shown = true;
    if (this.waiting) this.start(this.waiting);
  }

  stop() {
    this.running?.stop.abort();
    this.running = this.waiting = null;
  }
}
