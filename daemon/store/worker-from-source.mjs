// Starts the worker from TypeScript source (in tests), which Node 20 cannot load by itself. A module of its
// own, since `--import tsx` takes no hold in worker threads.
import { register } from 'tsx/esm/api';

register();
await import('./worker.ts');
