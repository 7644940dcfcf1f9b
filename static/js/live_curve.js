// Keeps the part of a page that tells of a hot kiln fresh: fetched again by itself while the page is looked at.
// Without it the page shows what was known when it was opened, and can be loaded again by hand.
import { clock, translate } from './words.js';

const EVERY_MS = 20_000;
const part = document.querySelector('[data-live]');

if (part) {
    const silent = document.querySelector('[data-live-silent]');
    const said = document.querySelector('[data-live-said]');
    let running = false;
    let heard = new Date();

    const alarms = (root) => [...root.querySelectorAll('[data-alarm] h3')].map((one) => one.textContent).join('. ');

    const showSilence = () => {
        silent.querySelector('[data-live-since]').textContent = clock(heard);
        silent.hidden = false;
    };

    const put = (page) => {
        const fresh = page.body;
        // What somebody opened to read stays open.
        for (const open of part.querySelectorAll('details[open][id]')) {
            fresh.querySelector(`#${open.id}`)?.setAttribute('open', '');
        }
        const held = part.contains(document.activeElement) && document.activeElement.closest('details[id]');
        const before = alarms(part);
        const after = alarms(fresh);
        part.replaceChildren(...fresh.childNodes);
        if (held) part.querySelector(`#${held.id} > summary`)?.focus({ preventScroll: true });
        // Read aloud only what is new, not the whole part three times a minute.
        if (said && after !== before) said.textContent = after || translate('Nothing is amiss any more.');
    };

    const look = async () => {
        if (document.hidden || running) return;
        running = true;
        try {
            const answer = await fetch(part.dataset.live, { headers: { 'HX-Request': 'true' }, redirect: 'error' });
            if (!answer.ok) throw new Error(String(answer.status));
            put(new DOMParser().parseFromString(await answer.text(), 'text/html'));
            heard = new Date();
            if (silent) silent.hidden = true;
        } catch {
            if (silent) showSilence();
        } finally {
            running = false;
        }
    };

    setInterval(look, Number(part.dataset.liveEvery) || EVERY_MS);
    document.addEventListener('visibilitychange', look);
}
