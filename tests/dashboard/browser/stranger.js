// What a stranger's page may try, and what came of each; run in that page by test_strangers.py.
async ({ target, token }) => {
  const outcome = {};
  const request = JSON.stringify({
    output: "answer.children",
    outputs: { id: "answer", property: "children" },
    inputs: [{ id: "action", property: "data", value: { do: "hold", number: 1 } }],
    changedPropIds: ["action.data"],
  });
  const attempt = async (name, work) => {
    try {
      outcome[name] = await work();
    } catch (error) {
      outcome[name] = `refused: ${error.name}`;
    }
  };
  const post = (headers, mode = "cors") =>
    fetch(`${target}_dash-update-component`, { method: "POST", mode, headers, body: request });
  const json = { "Content-Type": "application/json" };
  const seen = async (answer) => (await answer).status;
  await attempt("read the page", () => seen(fetch(target)));
  await attempt("read the layout", () => seen(fetch(`${target}_dash-layout`)));
  await attempt("post unseen", async () => (await post({}, "no-cors")).type);
  await attempt("post as JSON", () => seen(post(json)));
  for (const each of ["guess", token]) {
    const headers = { ...json, "X-Bandwright-Token": each };
    await attempt(`post with the token ${each}`, () => seen(post(headers)));
  }
  await attempt("beacon", async () => navigator.sendBeacon(`${target}_dash-update-component`, request) && "sent");
  await attempt("follow the feed", () => new Promise((done) => {
    const socket = new WebSocket(target.replace("http", "ws") + "feed");
    socket.onmessage = () => done("heard");
    socket.onopen = () => done("open");
    socket.onclose = () => done("refused");
  }));
  const embed = (tag, source) => new Promise((done) => {
    const element = document.createElement(tag);
    element.onload = () => done("loaded");
    element.onerror = () => done("refused");
    element.src = source;
    document.body.append(element);
  });
  await attempt("a picture of it", () => embed("img", `${target}assets/bandwright.svg`));
  await attempt("a script of it", () => embed("script", `${target}assets/theme.js`));
  await embed("iframe", target);
  await attempt("into a frame", async () => {
    try { return document.querySelector("iframe").contentDocument ? "read" : "refused"; }
    catch { return "refused"; }
  });
  return outcome;
}
