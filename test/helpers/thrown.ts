import { InputError } from '../../src/core/errors.js';

/**
 * The user's error that an action ends in.
 * @param action - What should fail.
 * @returns The error.
 * @throws {Error} When it does not fail, or with anything else than an `InputError`.
 */
export function syncInputErrorOf(action: () => unknown): InputError {
  try {
    action();
  } catch (error) {
    return asInputError(error);
  }
  throw nothingThrown();
}

/**
 * The same for an action that may be asynchronous.
 * @param action - What should fail.
 * @returns The error.
 * @throws {Error} When it does not fail, or with anything else than an `InputError`.
 */
export async function inputErrorOf(action: () => unknown): Promise<InputError> {
  try {
    await action();
  } catch (error) {
    return asInputError(error);
  }
  throw nothingThrown();
}

function asInputError(error: unknown): InputError {
  if (error instanceof InputError) return error;
  throw error;
}

function nothingThrown(): Error {
  return new Error('expected an InputError but nothing was thrown');
}
