import { createHash } from 'node:crypto';
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { defineConfig, type Plugin } from 'vite';
import { makeHelp } from '../docs/make-help.ts';

const here = (path: string): string => fileURLToPath(new URL(path, import.meta.url));
const OUT = here('../dist/dashboard/');
const WORKER = 'service-worker';

/** Tells the service worker which files make up the frame of this build, and a name that changes with any of them. */
function nameTheFrame(): Plugin {
  return {
    name: 'name-the-frame',
    closeBundle() {
      const page = readFileSync(`${OUT}index.html`, 'utf8');
      const asked = [...page.matchAll(/(?:src|href)="\.\/([^"]+)"/g)].map(([, file]) => file!);
      const files = [...new Set(['index.html', ...asked, ...readdirSync(here('./public'))])].sort();
      const hash = createHash('sha256');
      for (const file of files) hash.update(file).update(readFileSync(`${OUT}${file}`));
      const worker = `${OUT}${WORKER}.js`;
      const named = readFileSync(worker, 'utf8')
        .replaceAll('FRAME_FILES', JSON.stringify(files))
        .replaceAll('FRAME_NAME', JSON.stringify(hash.digest('hex').slice(0, 16)));
      writeFileSync(worker, named);
    },
  };
}

/** What schemas say of their fields is for documents: the pages show none of it, and it is a kilobyte of the first. */
const leaveOutDescriptions = (): Plugin => ({
  name: 'leave-out-descriptions',
  transform: {
    filter: { id: /\/shared\/wire\/[^/]+\.ts$/ },
    handler: (code) => code.replaceAll(/\.describe\(\s*(['"`])(?:(?!\1)[^\\$]|\\.)*\1,?\s*\)/g, ''),
  },
});

/** The documents as pages, beside the page. */
const help = (): Plugin => ({ name: 'help', closeBundle: () => makeHelp(`${OUT}help`) });

export default defineConfig({
  base: './',
  resolve: { alias: [{ find: /^zod$/, replacement: here('./zod-without-eval.ts') }] },
  plugins: [leaveOutDescriptions(), nameTheFrame(), help()],
  build: {
    outDir: '../dist/dashboard',
    emptyOutDir: true,
    // The daemon's content security policy allows no data: addresses and no inline script.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    target: 'es2022',
    // What is bundled is given on with its licence.
    license: { fileName: 'licences.md' },
    rollupOptions: {
      input: { page: here('./index.html'), [WORKER]: here('./worker/service-worker.ts') },
      output: {
        // Compressed together they are smaller than each by itself; all of it is of the first page.
        codeSplitting: {
          groups: [
            {
              name: 'base',
              test: /node_modules\/@?preact|dashboard\/(settings|store|forwarded|views\/words)\.ts|formula\.ts/,
            },
          ],
        },
        // A service worker keeps its name from build to build.
        entryFileNames: ({ name }) => (name === WORKER ? `${WORKER}.js` : 'assets/[name]-[hash].js'),
      },
    },
  },
});
