/** A length of time as a sentence has it: '45 s', '12 min', '17 h', '3 days'. */
export function describeTime(seconds: number): string {
  if (seconds < 120) return `${seconds.toFixed(0)} s`;
  if (seconds < 120 * 60) return `${(seconds / 60).toFixed(0)} min`;
  if (seconds < 48 * 3600) return `${(seconds / 3600).toFixed(0)} h`;
  return `${(seconds / 86_400).toFixed(0)} days`;
}
