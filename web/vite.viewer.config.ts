import { defineConfig } from 'vite';

// The script and the style of an exported document: one file each, with nothing to load.
export default defineConfig({
  publicDir: false,
  build: {
    outDir: 'dist/viewer',
    emptyOutDir: true,
    target: 'es2022',
    chunkSizeWarningLimit: 1500,
    cssCodeSplit: false,
    lib: {
      entry: 'src/viewer.tsx',
      formats: ['iife'],
      name: 'tossline',
      fileName: () => 'viewer.js',
      cssFileName: 'viewer',
    },
  },
  define: { 'process.env.NODE_ENV': '"production"' },
});
