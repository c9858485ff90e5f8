/** What the replay is compared with: the lines of stdin are read, split, and taken apart as JSON and dates. */
let [count, latestMs, rest] = [0, 0, ''];

function take(line) {
  const { at } = JSON.parse(line);
  if (at === undefined) return;
  count++;
  latestMs = Math.max(latestMs, Date.parse(at));
}

process.stdin.setEncoding('utf8');
for await (const chunk of process.stdin) {
  const lines = (rest + chunk).split('\n');
  rest = lines.pop();
  for (const line of lines) take(line);
}
process.stdout.write(`${count} ${latestMs}\n`);
