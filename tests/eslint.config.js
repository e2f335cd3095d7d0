// The pages' and the tests' style: what is unsafe or unused is an error.
import js from "@eslint/js";
import globals from "globals";

const strict = {
  "no-var": "error",
  "prefer-const": "error",
  eqeqeq: "error",
  "no-unused-vars": ["error", { ignoreRestSiblings: true, argsIgnorePattern: "^_" }],
  "no-implied-eval": "error",
  "no-restricted-properties": [
    "error",
    { property: "innerHTML", message: "names are input: use textContent" },
    { property: "outerHTML", message: "names are input: use textContent" },
    { property: "insertAdjacentHTML", message: "names are input: use textContent" },
  ],
};

export default [
  { ignores: ["**/node_modules/**"] },
  js.configs.recommended,
  {
    files: ["**/overlay/**/*.js"],
    languageOptions: { ecmaVersion: 2022, sourceType: "module", globals: globals.browser },
    rules: strict,
  },
  {
    files: ["**/tests/**/*.mjs", "**/tests/**/*.js"],
    languageOptions: { ecmaVersion: 2022, sourceType: "module", globals: { ...globals.node, ...globals.browser } },
    rules: strict,
  },
];
