const ESCAPES: Record<string, string> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};
/** Text as it stands in HTML, also between quotes. */
export const escaped = (text: string): string => text.replace(/[&<>"']/g, (one) => ESCAPES[one]!);
