// The line to the workbench: frames go out, at most two under way; numbers come back.

const IN_FLIGHT = 2;
const HEAD_BYTES = 12;

// Opens it. `bench` is the number of a camera at the bench computer, "driven" for that of the bench
// which drives the movement, or null for frames of ours.
export function openLine(path, bench, on) {
  const scheme = location.protocol === "https:" ? "wss:" : "ws:";
  const socket = new WebSocket(`${scheme}//${location.host}${path}`);
  socket.binaryType = "blob";
  const flying = new Map();
  let count = 0;
  let isReady = false;
  let isCoding = false;
  let isClosed = false;

  socket.addEventListener("open", () => {
    const token = document.querySelector('meta[name="form-token"]').content;
    const source = bench === null ? "browser" : bench === "driven" ? "driven" : "bench";
    socket.send(JSON.stringify({ token, source, camera: bench === "driven" ? null : bench }));
  });
  socket.addEventListener("message", async (event) => {
    if (isClosed) return;
    if (typeof event.data !== "string") {
      on.picture(await createImageBitmap(event.data));
      return;
    }
    const said = JSON.parse(event.data);
    if (said.live) {
      isReady = true;
      on.ready(said.live);
      return;
    }
    const frame = landed(said.n);
    if (said.wrong) {
      frame?.bitmap.close();
      on.wrong(sentence(said.wrong), said.over);
    } else {
      on.answer(said, frame?.bitmap ?? null, frame ? performance.now() - frame.seen : null);
    }
  });
  socket.addEventListener("close", () => {
    for (const frame of flying.values()) frame.bitmap.close();
    flying.clear();
    if (isClosed) return;
    isClosed = true;
    on.closed(isReady);
  });

  // What was answered; frames before it were passed over.
  function landed(number) {
    const frame = flying.get(number) ?? null;
    for (const [n, one] of flying) {
      if (n < number) one.bitmap.close();
      if (n <= number) flying.delete(n);
    }
    return frame;
  }

  return {
    async put(frame) {
      if (isClosed || isCoding || flying.size >= IN_FLIGHT || socket.readyState !== 1) return;
      isCoding = true;
      try {
        const { bitmap, blob } = await frame.grab();
        if (isClosed || socket.readyState !== 1) {
          bitmap.close();
          return;
        }
        count += 1;
        const head = new DataView(new ArrayBuffer(HEAD_BYTES));
        head.setUint32(0, count);
        head.setFloat64(4, frame.t);
        flying.set(count, { bitmap, seen: frame.seen });
        socket.send(new Blob([head, blob]));
      } catch {
        // The camera has just gone; it says so itself.
      } finally {
        isCoding = false;
      }
    },
    close() {
      isClosed = true;
      socket.close();
    },
  };
}

function sentence(wrong) {
  const what = wrong.where ? `${wrong.where}: ${wrong.what}` : wrong.what;
  const all = wrong.do ? `${what}; ${wrong.do}` : what;
  return `${all[0].toUpperCase()}${all.slice(1)}.`;
}
