/**
 * What the pages take for `zod`: told before the first schema is made that it cannot generate code, which the content
 * security policy forbids. It would try, and the error that it catches costs a slow processor a tenth of a second.
 */
import { z } from 'zod/v4';

z.config({ jitless: true });

export { z };
