// Calls to the server that opened this page; each carries the session's key.

const key = document.querySelector('meta[name="call-key"]').content;

async function answered(asking) {
  const response = await asking.catch(() => {
    throw new Error("The bench does not answer: is it still open in the terminal?");
  });
  const values = await response.json();
  if (!response.ok) throw new Error(values.wrong);
  return values;
}

export async function read(name) {
  return answered(fetch(`/call/${name}`, { headers: { "X-Bench-Key": key } }));
}

export async function call(name, values = {}) {
  return answered(fetch(`/call/${name}`, {
    method: "POST",
    headers: { "X-Bench-Key": key, "Content-Type": "application/json" },
    body: JSON.stringify(values),
  }));
}

// Sends a file as it is.
export async function send(address, file) {
  return answered(fetch(address, {
    method: "POST",
    headers: { "X-Bench-Key": key, "Content-Type": "application/octet-stream" },
    body: file,
  }));
}
