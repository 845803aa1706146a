/** What makeProofPhoto and makeLampPhotos have in common: a scene with another tower under another lamp, and JSON files. */
import { writeFileSync } from 'node:fs';
import { format, resolveConfig } from 'prettier';
import type { FaceRecipe } from '../test/synth/recipe.js';
import type { Scene } from '../test/synth/scene/compose.js';

/** What is changed of a scene. */
export interface SceneChange {
  /** Colour of the tower, linear light. */
  readonly rgb: readonly [number, number, number];
  readonly recipe: Partial<Omit<FaceRecipe, 'ladder'>> & { readonly ladder?: FaceRecipe['ladder'] | 'off' };
  /** The lamp, mm from the middle of the face: right, up, towards the camera. */
  readonly lampMm: readonly [number, number, number];
}

/**
 * A scene with the told tower and the lamp changed.
 * @param scene - The scene; not modified.
 * @param change - What is changed.
 */
export function changedScene(scene: Scene, { rgb, recipe, lampMm }: SceneChange): Scene {
  const { told, middleMm } = scene;
  const { ladder: composed, ...drawn } = told.recipe;
  const { ladder = composed, ...others } = recipe;
  const shaped = ladder === undefined || ladder === 'off' ? {} : { ladder };
  const plan = { ...told, rgb, fallBackMm: 0.2, recipe: { ...drawn, ...others, ...shaped } };
  return {
    ...scene,
    told: plan,
    towers: scene.towers.map((tower) => ({ ...tower, plan })),
    light: {
      lampMm: [middleMm[0] + lampMm[0], middleMm[1] + lampMm[1], middleMm[2] + lampMm[2]],
      radiusMm: 20,
      ambient: 0.15,
    },
  };
}

/**
 * Writes plain data as the repository formats it.
 * @param path - The file.
 * @param content - What to write.
 */
export async function writeJson(path: string, content: unknown): Promise<void> {
  const options = { ...(await resolveConfig(path)), filepath: path };
  writeFileSync(path, await format(JSON.stringify(content, null, 2), options));
}
