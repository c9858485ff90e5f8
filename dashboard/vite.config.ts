import { defineConfig } from 'vite';

export default defineConfig({
  base: './',
  build: {
    outDir: '../dist/dashboard',
    emptyOutDir: true,
    // The daemon's content security policy allows no data: addresses and no inline script.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    target: 'es2022',
    // What is bundled is given on with its licence.
    license: { fileName: 'licences.md' },
  },
});
