/** Wrong use: one line on stderr, exit 2. */
export class UsageError extends Error {}
