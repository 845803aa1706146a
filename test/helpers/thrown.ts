import { InputError } from '../../src/core/errors.js';

/**
 * The user's error that an action ends in.
 * @param action - What should fail.
 * @returns The error.
 * @throws {Error} When it does not fail, or with anything else than an `InputError`.
 */
export async function inputErrorOf(action: () => unknown): Promise<InputError> {
  try {
    await action();
  } catch (error) {
    if (error instanceof InputError) return error;
    throw error;
  }
  throw new Error('expected an InputError but nothing was thrown');
}
