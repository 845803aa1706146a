import js from '@eslint/js';
import jsdoc from 'eslint-plugin-jsdoc';
import { defineConfig } from 'eslint/config';
import tseslint from 'typescript-eslint';

/** What other files can call: these need full docs. Helpers inside a file may do with less. */
const PUBLIC_FUNCTIONS = [
  'ExportNamedDeclaration > FunctionDeclaration',
  'ExportNamedDeclaration > ClassDeclaration > ClassBody > MethodDefinition:not([accessibility="private"])',
];

/** Where arrays are the subject, an index is checked by the loop around it and `!` says so. */
const NUMERIC_CODE = [
  'src/core/vector.ts',
  'src/{signal,imaging,profiles,ripple,band}/**/*.ts',
  'test/**/*.ts',
  'scripts/**/*.ts',
];

export default defineConfig(
  { ignores: ['dist/', 'coverage/', 'test/output/'] },
  { linterOptions: { reportUnusedDisableDirectives: 'error' } },
  js.configs.recommended,
  {
    files: ['**/*.ts'],
    extends: [tseslint.configs.strictTypeChecked, tseslint.configs.stylisticTypeChecked],
    languageOptions: { parserOptions: { projectService: true, tsconfigRootDir: import.meta.dirname } },
    rules: {
      '@typescript-eslint/consistent-type-imports': 'error',
      '@typescript-eslint/restrict-template-expressions': ['error', { allowNumber: true }],
      // Numeric loops run over several arrays with one index, and step in both directions.
      '@typescript-eslint/prefer-for-of': 'off',
    },
  },
  {
    // What runs in the browser has types of its own.
    files: ['src/page/**/*.ts'],
    languageOptions: { parserOptions: { projectService: false, project: './tsconfig.page.json' } },
  },
  {
    files: NUMERIC_CODE,
    rules: { '@typescript-eslint/no-non-null-assertion': 'off' },
  },
  {
    files: ['src/**/*.ts'],
    plugins: { jsdoc },
    settings: { jsdoc: { mode: 'typescript' } },
    rules: {
      // Results leave through the io object that the command line is given, so that tests can read them.
      'no-console': 'error',
      'jsdoc/require-jsdoc': [
        'error',
        { publicOnly: true, require: { ClassDeclaration: true, FunctionDeclaration: true } },
      ],
      'jsdoc/require-description': ['error', { contexts: [PUBLIC_FUNCTIONS[0]] }],
      'jsdoc/require-param': ['error', { contexts: PUBLIC_FUNCTIONS, checkDestructured: false }],
      'jsdoc/require-param-description': 'error',
      'jsdoc/require-param-name': 'error',
      'jsdoc/require-hyphen-before-param-description': 'error',
      'jsdoc/require-returns': ['error', { contexts: PUBLIC_FUNCTIONS }],
      'jsdoc/require-returns-description': 'error',
      'jsdoc/require-throws': ['error', { contexts: PUBLIC_FUNCTIONS }],
      'jsdoc/check-param-names': ['error', { checkDestructured: false }],
      'jsdoc/check-tag-names': 'error',
      'jsdoc/check-alignment': 'error',
      'jsdoc/no-types': ['error', { contexts: PUBLIC_FUNCTIONS }],
      'jsdoc/empty-tags': 'error',
    },
  },
);
