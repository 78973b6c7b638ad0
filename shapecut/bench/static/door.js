// At the door: a code of the terminal lets this device in.

const said = document.getElementById("said");

document.getElementById("door").addEventListener("submit", async event => {
  event.preventDefault();
  const [button] = event.target.getElementsByTagName("button");
  button.disabled = true;
  said.textContent = "";
  try {
    const answer = await fetch("/enter", {
      method: "POST",
      body: JSON.stringify({ code: document.getElementById("code").value }),
    });
    if (answer.ok) location.reload();
    else said.textContent = (await answer.json()).wrong;
  } catch { said.textContent = "The bench does not answer: is it still open?"; }
  button.disabled = false;
});
