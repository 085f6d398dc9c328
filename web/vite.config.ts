import { defineConfig } from 'vitest/config';

// The page: index.html with hashed assets, read by the server from the embedded dist.
export default defineConfig({
  build: {
    outDir: 'dist',
    emptyOutDir: true,
    target: 'es2022',
    chunkSizeWarningLimit: 1500,
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
  },
  server: { fs: { allow: ['..'] } }, // a test compares the protocol with its Go twin
  test: { environment: 'happy-dom', include: ['src/**/*.test.{ts,tsx}'] },
});
