// Counts breaches of the content policy where a test, or a developer's console, can see them.
document.addEventListener("securitypolicyviolation", (event) => {
  const root = document.documentElement;
  const seen = JSON.parse(root.dataset.cspViolations || "[]");
  seen.push(`${event.effectiveDirective} ${event.blockedURI} ${event.sourceFile || ""}:${event.lineNumber}`);
  root.dataset.cspViolations = JSON.stringify(seen);
});
