import { chmodSync } from 'node:fs';
import { join } from 'node:path';
import { defineConfig, type Plugin } from 'vite';

/** `npx esterwatch` starts the file itself; npm makes it so when it links it, and a build makes it anew. */
const executable: Plugin = {
  name: 'executable',
  writeBundle: ({ dir }) => {
    if (dir !== undefined) chmodSync(join(dir, 'main.js'), 0o755);
  },
};

/**
 * The daemon in a few files, what it uses included. Node reads and compiles a thousand small files for a second and
 * more on a small computer, and keeps them in memory; a card that is slow to seek makes it worse.
 */
export default defineConfig({
  plugins: [executable],
  ssr: {
    noExternal: true,
    // Native code, and what reads files of its own beside itself.
    external: ['better-sqlite3', 'pdfkit'],
  },
  build: {
    ssr: true,
    outDir: '../dist/daemon',
    emptyOutDir: true,
    target: 'node20.19',
    // Beside the code: `node --enable-source-maps dist/daemon/main.js` names the source in a stack.
    sourcemap: true,
    // What is bundled is given on with its licence.
    license: { fileName: 'licences.md' },
    rolldownOptions: {
      input: { main: 'main.ts', worker: 'store/worker.ts' },
      output: {
        entryFileNames: '[name].js',
        chunkFileNames: '[name]-[hash].js',
        minify: { compress: true, mangle: { keepNames: true }, codegen: { removeWhitespace: true } },
      },
    },
  },
});
