/**
 * How a request of the page is answered where the frame of the page is kept; pure.
 * `page`: from the daemon, and only where it does not answer the kept frame; `hashed`: a file whose name changes
 * with its content, from what is kept; `file`: from the daemon, else as kept; null: not touched at all, as all
 * that says anything of vessels.
 */
export function answering(
  { method, mode, url }: { method: string; mode: string; url: string },
  scope: string,
): 'page' | 'hashed' | 'file' | null {
  if (method !== 'GET' || !url.startsWith(scope)) return null;
  const path = url.slice(scope.length).replace(/[?#].*$/, '');
  if (path === '' || path === 'index.html') return mode === 'navigate' ? 'page' : null;
  if (/^assets\/[^/]+$/.test(path)) return 'hashed';
  return /^[\w-]+\.(svg|png|webmanifest)$/.test(path) ? 'file' : null;
}
