// The editor in the page's type and colours. It uses CSS variables, so it follows light and dark by itself.
import { HighlightStyle, syntaxHighlighting } from '@codemirror/language';
import { EditorView } from '@codemirror/view';
import { tags as t } from '@lezer/highlight';

const look = EditorView.theme({
  '&': { color: 'var(--ink)', backgroundColor: 'transparent', fontSize: '13.5px' },
  '&.cm-focused': { outline: 'none' },
  '.cm-scroller': { fontFamily: 'var(--mono)', lineHeight: '1.6', scrollbarWidth: 'thin' },
  '.cm-content': { padding: '12px 0 60px', caretColor: 'var(--clay)' },
  '.cm-line': { padding: '0 18px 0 8px' },
  '.cm-cursor, .cm-dropCursor': { borderLeftColor: 'var(--clay)', borderLeftWidth: '2px' },
  '&.cm-focused > .cm-scroller > .cm-selectionLayer .cm-selectionBackground, .cm-selectionBackground': {
    background: 'color-mix(in srgb, var(--court) 22%, transparent)',
  },
  '.cm-gutters': { background: 'transparent', border: '0', color: 'var(--soft)', paddingLeft: '6px' },
  '.cm-lineNumbers .cm-gutterElement': { minWidth: '26px', fontVariantNumeric: 'tabular-nums' },
  '.cm-activeLine': { background: 'color-mix(in srgb, var(--in) 60%, transparent)' },
  '.cm-activeLineGutter': { background: 'transparent', color: 'var(--ink)' },
  '.cm-step-here': { background: 'var(--in)', boxShadow: 'inset 2px 0 var(--clay)' },
  '.cm-matchingBracket, &.cm-focused .cm-matchingBracket': {
    background: 'transparent',
    outline: '1px solid var(--rule)',
  },
  '.cm-selectionMatch': { background: 'color-mix(in srgb, var(--clay) 16%, transparent)' },
  '.cm-tooltip': {
    background: 'var(--card)',
    color: 'var(--ink)',
    border: '1px solid var(--line)',
    borderRadius: '7px',
    boxShadow: '0 8px 28px rgb(0 0 0 / 0.14)',
    overflow: 'hidden',
  },
  '.cm-tooltip-autocomplete > ul': { fontFamily: 'var(--mono)', fontSize: '13px', maxHeight: '240px' },
  '.cm-tooltip-autocomplete > ul > li': { padding: '3px 10px' },
  '.cm-tooltip-autocomplete > ul > li[aria-selected]': { background: 'var(--court)', color: 'var(--paper)' },
  '.cm-completionDetail': { color: 'var(--soft)', fontStyle: 'normal', marginLeft: '12px' },
  'li[aria-selected] .cm-completionDetail': { color: 'inherit' },
  '.cm-completionInfo': { padding: '8px 12px', font: '14px/1.4 var(--sans)', maxWidth: '340px' },
  '.cm-completionMatchedText': { textDecoration: 'none', fontWeight: '700' },
  '.cm-diagnostic': { font: '14px/1.4 var(--sans)', padding: '6px 12px', borderLeft: '3px solid var(--trouble)' },
  '.cm-diagnostic-warning': { borderLeftColor: 'var(--clay)' },
  '.cm-lintRange-error': {
    backgroundImage: 'none',
    textDecoration: 'underline wavy var(--trouble) 1px',
    textUnderlineOffset: '4px',
  },
  '.cm-lintRange-warning': {
    backgroundImage: 'none',
    textDecoration: 'underline wavy var(--clay) 1px',
    textUnderlineOffset: '4px',
  },
  '.cm-gutter-lint': { width: '14px' },
  '.cm-gutter-lint .cm-gutterElement': { padding: '0 0 0 3px' },
  '.cm-lint-marker': {
    width: '9px',
    height: '9px',
    content: 'none !important',
    borderRadius: '50%',
    background: 'var(--trouble)',
    marginTop: '7px',
  },
  '.cm-lint-marker-warning': { background: 'var(--clay)' },
  '.cm-said': {
    font: '14px/1.45 var(--sans)',
    padding: '7px 12px',
    maxWidth: '440px',
    whiteSpace: 'pre-wrap',
    margin: '0',
  },
  '.cm-said code': { fontFamily: 'var(--mono)', fontSize: '13px' },
  '.cm-said p': { margin: '4px 0 0' },
  '.cm-panels': { background: 'var(--paper)', color: 'var(--ink)', borderColor: 'var(--line)' },
  '.cm-panel input, .cm-panel button': { font: '13.5px var(--sans)' },
});

const words = HighlightStyle.define([
  { tag: [t.lineComment, t.blockComment], color: 'var(--soft)' },
  { tag: [t.keyword, t.controlKeyword, t.definitionKeyword, t.moduleKeyword], color: 'var(--court)' },
  { tag: [t.string, t.character, t.special(t.string)], color: 'var(--clay)' },
  { tag: [t.number, t.bool, t.null], color: 'var(--series-4)' },
  { tag: [t.function(t.definition(t.variableName)), t.definition(t.typeName)], fontWeight: '700' },
]);

export const theme = [look, syntaxHighlighting(words)];
