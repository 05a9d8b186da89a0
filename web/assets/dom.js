// Small hands for building elements. Text is always text: nothing a stranger
// wrote is ever read as markup.

/** Makes an element: el('p', {class: 'x', onclick: f}, 'text', child). */
export function el(tag, props = {}, ...children) {
  const e = document.createElement(tag);
  for (const [k, v] of Object.entries(props)) {
    if (v === undefined || v === null || v === false) continue;
    if (k.startsWith('on')) e.addEventListener(k.slice(2), v);
    else if (k === 'value' || k === 'checked') e[k] = v;
    else e.setAttribute(k, v === true ? '' : v);
  }
  e.append(...children.flat().filter(c => c !== null && c !== undefined && c !== false));
  return e;
}

/** Puts new children in place of the old ones. */
export function fill(parent, ...children) {
  parent.replaceChildren(...children.flat().filter(c => c !== null && c !== undefined && c !== false));
}

/** Tells people who look, and people who listen, what happened; undo {words, act} offers a way back. */
export function say(message, isError, undo) {
  const box = document.getElementById('say');
  box.className = isError ? 'error' : '';
  fill(box, el('span', {}, message), undo && el('button', { class: 'undo', onclick: () => { fill(box); undo.act(); } }, undo.words), el('button', { class: 'plain', 'aria-label': 'Dismiss', onclick: () => fill(box) }, '✕'));
  clearTimeout(say.timer);
  if (!isError) say.timer = setTimeout(() => fill(box), undo ? 20000 : 6000);
}
