// Asks the device for a passkey and sends its answer as a form. The form is shown where a browser can do that.

const toBytes = (text) => {
  const plain = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  return Uint8Array.from(plain, (sign) => sign.charCodeAt(0));
};

const toText = (buffer) => {
  const plain = Array.from(new Uint8Array(buffer), (byte) => String.fromCharCode(byte)).join("");
  return btoa(plain).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
};

const withBytes = (list = []) => list.map((each) => ({ ...each, id: toBytes(each.id) }));

const make = (asked) =>
  navigator.credentials.create({
    publicKey: {
      ...asked,
      challenge: toBytes(asked.challenge),
      user: { ...asked.user, id: toBytes(asked.user.id) },
      excludeCredentials: withBytes(asked.excludeCredentials),
    },
  });

const use = (asked) =>
  navigator.credentials.get({
    publicKey: {
      ...asked,
      challenge: toBytes(asked.challenge),
      allowCredentials: withBytes(asked.allowCredentials),
    },
  });

const answerOf = (credential) => {
  const response = { clientDataJSON: toText(credential.response.clientDataJSON) };
  for (const part of ["attestationObject", "authenticatorData", "signature", "userHandle"]) {
    if (credential.response[part]) response[part] = toText(credential.response[part]);
  }
  return JSON.stringify({
    id: credential.id,
    rawId: toText(credential.rawId),
    type: credential.type,
    response,
    clientExtensionResults: {},
  });
};

if (window.PublicKeyCredential && window.isSecureContext) {
  for (const no of document.querySelectorAll("[data-no-passkeys]")) no.hidden = true;
  for (const form of document.querySelectorAll("form[data-passkey]")) {
    form.closest("[data-passkey-box]").hidden = false;
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const asked = JSON.parse(form.dataset.question);
      form.querySelector("[data-wrong]").hidden = true;
      try {
        const credential = await (form.dataset.passkey === "create" ? make(asked) : use(asked));
        form.elements.answer.value = answerOf(credential);
        form.submit();
      } catch {
        form.querySelector("[data-wrong]").hidden = false;
      }
    });
  }
}
