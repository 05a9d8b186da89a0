// The page's only way to the server: the interface that openapi.json describes.
import { t } from './text.js';

/** What the server refused, with what to do. */
export class Refused extends Error {
  constructor(status, title, detail, more) {
    super(detail ? `${title[0].toUpperCase()}${title.slice(1)}. ${detail}` : title);
    this.status = status;
    this.more = more;
  }
}

async function call(method, path, body) {
  let res;
  try {
    res = await fetch('api/v1' + path, { method, headers: body ? { 'Content-Type': 'application/json' } : {}, body: body && JSON.stringify(body) });
  } catch { throw new Refused(0, t('gone')); }
  if (res.status === 204) return null;
  const data = await res.json().catch(() => ({}));
  if (res.status === 401 && path !== '/login' && path !== '/session/password') dispatchEvent(new Event('signedout'));
  if (!res.ok) throw new Refused(res.status, data.title || res.statusText, data.detail, data.more);
  return data;
}

export const get = path => call('GET', path);
export const post = (path, body) => call('POST', path, body);
export const put = (path, body) => call('PUT', path, body);
export const patch = (path, body) => call('PATCH', path, body);
export const del = path => call('DELETE', path);

/** Sends one file; progress is told the share sent, 0 to 1. */
export function send(file, progress, to = '/originals') {
  return new Promise((done, fail) => {
    const x = new XMLHttpRequest();
    x.open('POST', `api/v1${to}?name=` + encodeURIComponent(file.name));
    x.upload.onprogress = e => e.lengthComputable && progress(e.loaded / e.total);
    x.onload = () => {
      let data = {};
      try { data = JSON.parse(x.responseText); } catch { /* told below */ }
      if (x.status === 401) dispatchEvent(new Event('signedout'));
      if (x.status < 300 && x.status >= 200) done(data);
      else fail(new Refused(x.status, data.title || t('cutoff'), data.detail));
    };
    x.onerror = x.onabort = () => fail(new Refused(0, t('cutoff')));
    x.send(file);
  });
}
