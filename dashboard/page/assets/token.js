// Whatever changes something must carry this start's token, which stands in the page alone: no
// other origin can read it there. Runs before Dash's scripts, whose requests it adds it to.
//
// A page that outlived its server has the token of the start before; it fetches itself for the new
// one and asks once more.
(() => {
  const NAME = "X-Bandwright-Token";
  const STALE = 409;
  const plain = window.fetch;
  let token = tokenOf(document);

  function tokenOf(page) {
    return page.querySelector('meta[name="bandwright-token"]').content;
  }

  function send(resource, options) {
    const headers = new Headers(options.headers);
    headers.set(NAME, token);
    return plain(resource, { ...options, headers });
  }

  window.fetch = async (resource, options = {}) => {
    if (["GET", "HEAD"].includes((options.method ?? "GET").toUpperCase())) {
      return plain(resource, options);
    }
    const answer = await send(resource, options);
    if (answer.status !== STALE) return answer;
    const page = await (await plain("/")).text();
    token = tokenOf(new DOMParser().parseFromString(page, "text/html"));
    return send(resource, options);
  };
})();
