// Asks the device for a passkey or security key: to sign in, to confirm, or to make a new one.
const button = document.querySelector("[data-passkey]");

const page = () => JSON.parse(document.getElementById("js_data").textContent);

const asks = {
  get: () => window.webauthnJSON.get(page().request_options),
  login: async (form) => {
    const answer = await fetch(form.action, { headers: { Accept: "application/json" } });
    if (!answer.ok) throw new Error(`${answer.status}`);
    return window.webauthnJSON.get((await answer.json()).request_options);
  },
  create: () => {
    const options = page().creation_options;
    const wanted = document.getElementById(button.dataset.passwordless)?.checked ?? false;
    const choice = options.publicKey.authenticatorSelection;
    choice.residentKey = wanted ? "required" : "discouraged";
    choice.requireResidentKey = wanted;
    if (wanted) choice.userVerification = "required";
    return window.webauthnJSON.create(options);
  },
};

button?.addEventListener("click", async () => {
  const form = button.form;
  button.disabled = true;
  try {
    const credential = await asks[button.dataset.passkey](form);
    document.getElementById(button.dataset.credential).value = JSON.stringify(credential);
    form.submit();
  } catch {
    button.disabled = false; // the person said no, or the device has no key for this address
    button.focus();
  }
});
