// Keeps the part of a page that tells of a hot kiln fresh: fetched again by itself while the page is looked at.
// Without it the page shows what was known when it was opened.

const EVERY_MS = 20_000;
const part = document.querySelector('[data-live]');

if (part) {
    const told = document.querySelector('[data-live-told]');
    let running = false;

    const fresh = async () => {
        if (document.hidden || running) return;
        // Somebody may be reading the table in it.
        if (part.querySelector('details[open]')) return;
        running = true;
        try {
            const answer = await fetch(part.dataset.live, { headers: { 'HX-Request': 'true' }, redirect: 'error' });
            if (!answer.ok) throw new Error(String(answer.status));
            const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
            part.replaceChildren(...page.body.childNodes);
            if (told) told.hidden = true;
        } catch {
            if (told) told.hidden = false;
        } finally {
            running = false;
        }
    };

    setInterval(fresh, Number(part.dataset.liveEvery) || EVERY_MS);
    document.addEventListener('visibilitychange', fresh);
}
