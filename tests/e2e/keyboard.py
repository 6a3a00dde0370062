"""A page by the Tab key alone: every control is reached, and shows that it has the focus (WCAG 2.1.1, 2.1.2, 2.4.7)."""

from __future__ import annotations

from playwright.sync_api import Page

WATCH = """() => {
  const seen = new Set(), bare = new Set(), groups = new Set();
  const named = (one) => `${one.localName}#${one.id} "${(one.innerText || one.name || '').trim().slice(0, 40)}"`;
  const shows = (one) => {
    const style = getComputedStyle(one);
    return style.outlineStyle !== 'none' || style.boxShadow !== 'none';
  };
  document.activeElement?.blur();
  document.addEventListener('focusin', ({ target }) => {
    seen.add(target);
    if (target.type === 'radio') groups.add(target.name);
    if (!shows(target) && !(target.closest('label') && shows(target.closest('label')))) bare.add(target);
  }, true);
  const wanted = () => [...document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex]')]
    .filter((one) => one.tabIndex >= 0 && !one.disabled && !one.closest('[inert]') && one.type !== 'hidden'
      && !one.matches(':disabled') && one.checkVisibility({ visibilityProperty: true }));
  const isReached = (one) =>
    [...seen].some((had) => one.contains(had)) || (one.type === 'radio' && groups.has(one.name));
  globalThis.byKey = () => ({
    left: wanted().filter((one) => !isReached(one)).map(named),
    bare: [...bare].map(named),
  });
  return wanted().length + 10 * document.querySelectorAll('video[controls], audio[controls]').length;
}"""
AT_ONCE = 40


def keyboard_findings(page: Page) -> list[str]:
    """What Tab does not reach from the top of the page, and what hides that it has the focus."""
    most = int(page.evaluate(WATCH)) + AT_ONCE
    found: dict[str, list[str]] = {"left": ["?"], "bare": []}
    for pressed in range(1, most + 1):
        page.keyboard.press("Tab")
        if pressed % AT_ONCE == 0 or pressed == most:
            found = page.evaluate("() => globalThis.byKey()")
            if not found["left"]:
                break
    return [
        *(f"not reached by Tab: {one}" for one in found["left"]),
        *(f"focus not shown: {one}" for one in found["bare"]),
    ]
