import { createRequire } from 'node:module';

const require = createRequire(import.meta.url);

/** The font that comes along, so that pictures and pages look the same on a machine without any. */
export const FONT_NAME = 'DejaVu Sans';
/** Paths of its files. */
export const FONT_FILES = {
  regular: require.resolve('dejavu-fonts-ttf/ttf/DejaVuSans.ttf'),
  bold: require.resolve('dejavu-fonts-ttf/ttf/DejaVuSans-Bold.ttf'),
} as const;
