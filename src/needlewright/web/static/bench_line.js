// The line of the bench screen: the workbench tells, the page listens.

// Opens it. `on.now(document)`, `on.look(look, picture)`, `on.closed()`.
export function openBenchLine(path, on) {
  const scheme = location.protocol === "https:" ? "wss:" : "ws:";
  const socket = new WebSocket(`${scheme}//${location.host}${path}`);
  socket.binaryType = "blob";
  let isClosed = false;
  let look = null;

  socket.addEventListener("open", () => {
    const token = document.querySelector('meta[name="form-token"]').content;
    socket.send(JSON.stringify({ token }));
  });
  socket.addEventListener("message", async (event) => {
    if (typeof event.data !== "string") {
      const mine = look;
      const picture = await createImageBitmap(event.data);
      if (isClosed || mine === null) picture.close();
      else on.look(mine, picture);
      return;
    }
    const said = JSON.parse(event.data);
    if (said.now) on.now(said.now);
    if (said.look) look = said.look;
  });
  socket.addEventListener("close", () => {
    if (isClosed) return;
    isClosed = true;
    on.closed();
  });
  return {
    close() {
      isClosed = true;
      socket.close();
    },
  };
}
