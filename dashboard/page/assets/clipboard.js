// What is shown, to the clipboard: the same picture and table that the server saves as files.
//
// Browsers lend the clipboard only to pages of this machine or behind TLS.

const REFUSED = "This browser does not let the page copy. Use Save to get a file.";
const NOT_PRIVATE = "Browsers copy only from pages of this machine or behind https. Use Save to get a file.";

export async function copyPicture(query) {
  if (!navigator.clipboard?.write || !window.ClipboardItem) return isSecureContext ? REFUSED : NOT_PRIVATE;
  const made = fetched(`/save/sweep.png?${query}`).then((answer) => answer.blob());
  return attempt(() => navigator.clipboard.write([new ClipboardItem({ "image/png": made })]), "The picture is on the clipboard.");
}

export async function copyData(query) {
  if (!navigator.clipboard?.writeText) return isSecureContext ? REFUSED : NOT_PRIVATE;
  return attempt(async () => {
    const text = await (await fetched(`/save/sweep.csv?${query}`)).text();
    await navigator.clipboard.writeText(text);
  }, "The table is on the clipboard: paste it into a spreadsheet.");
}

async function fetched(path) {
  const answer = await fetch(path);
  if (!answer.ok) throw new Error(await answer.text());
  return answer;
}

async function attempt(what, done) {
  try {
    await what();
    return done;
  } catch (error) {
    return error?.name === "NotAllowedError" ? REFUSED : `Nothing was copied: ${error.message}`;
  }
}
