/** Everything of a source that comes in several pieces. */
export async function gather<T>(pieces: AsyncIterable<readonly T[]>): Promise<T[]> {
  const all: T[] = [];
  for await (const piece of pieces) all.push(...piece);
  return all;
}
