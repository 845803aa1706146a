import { createRequire } from 'node:module';

const require = createRequire(import.meta.url);

/** Paths of the files of the font that comes along. */
export const FONT_FILES = {
  regular: require.resolve('dejavu-fonts-ttf/ttf/DejaVuSans.ttf'),
  bold: require.resolve('dejavu-fonts-ttf/ttf/DejaVuSans-Bold.ttf'),
} as const;
