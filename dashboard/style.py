"""The look of every page, on screen and on paper."""

from __future__ import annotations

from dashboard.palette import ACCENT, INK, LINE, PANEL, QUIET

SHEET = f"""
<style>
.block-container {{ padding-top: 2rem; padding-bottom: 3rem; max-width: 1400px;
  padding-left: 2.2rem; padding-right: 2.2rem; }}
h1 {{ font-size: 1.8rem !important; padding-bottom: .2rem !important; }}
h2 {{ font-size: 1.25rem !important; }}
h3 {{ font-size: 1.05rem !important; }}
a, .stMarkdown a {{ color: {ACCENT}; text-decoration: underline; }}
[data-testid="stRadioOption"] > div > div:first-child {{ border-color: {QUIET} !important; }}
:focus-visible {{ outline: 3px solid {ACCENT} !important; outline-offset: 2px; }}
/* A field has frames within frames: the whole of it shows the focus. */
:is(.stMultiSelect, .stSelectbox, .stTextInput, .stDateInput) :focus-visible {{ outline: none !important; }}
:is(.stMultiSelect, .stSelectbox, .stTextInput, .stDateInput):has(:focus-visible)
  {{ outline: 3px solid {ACCENT}; outline-offset: 3px; border-radius: .4rem; }}
[class*="st-key-in-full"] {{ gap: .3rem; }}
[data-testid="stCaptionContainer"] {{ color: {QUIET}; opacity: 1; }}
[data-testid="stText"] {{ white-space: pre-wrap; overflow-wrap: anywhere; font-family: inherit; }}
/* The grid's own export writes call texts as they are: a text that begins with = would run as a formula.
   Our download buttons guard against that. */
[data-testid="stElementToolbarButton"]:has(button[aria-label*="ownload"]) {{ display: none; }}
.card {{ padding: .1rem 0 .2rem 0; overflow-wrap: anywhere; }}
.card .label {{ font-size: .92rem; color: {QUIET}; line-height: 1.3; }}
.card .value {{ font-size: 1.65rem; font-weight: 600; color: {INK}; line-height: 1.25; margin-top: .15rem; }}
.card .limits {{ font-size: .95rem; color: {INK}; margin-bottom: .3rem; }}
.card .note {{ font-size: .85rem; color: {QUIET}; line-height: 1.4; margin: .35rem 0 0 0; }}
.card .beside {{ margin: .3rem 0 0 0; padding-top: .3rem; border-top: 1px solid {LINE}; font-size: .9rem;
  max-width: 34rem; line-height: 1.35; }}
.card .beside div {{ display: flex; flex-wrap: wrap; justify-content: space-between; column-gap: .8rem;
  margin-bottom: .15rem; }}
.card .beside span {{ color: {QUIET}; }}
[class*="st-key-ways-"] {{ gap: 0 1rem; }}
.card .beside b {{ font-weight: 600; color: {INK}; margin-left: auto; text-align: right; }}
[data-testid="stBaseButton-tertiary"] p {{ color: {ACCENT}; text-decoration: underline; }}
.box {{ border: 1px solid {LINE}; border-left: 4px solid {ACCENT}; background: {PANEL}; color: {INK};
  padding: .7rem .9rem; border-radius: 4px; font-size: .95rem; line-height: 1.45; overflow-wrap: anywhere; }}
.box p {{ margin: 0 0 .35rem 0; }}
.box p:last-child {{ margin-bottom: 0; }}
.box strong {{ display: block; margin-bottom: .2rem; }}
.scope {{ color: {QUIET}; font-size: .95rem; margin: 0; overflow-wrap: anywhere; }}
.only-print {{ display: none; }}
table.plain {{ border-collapse: collapse; width: 100%; font-size: .85rem; color: {INK}; }}
table.plain caption {{ text-align: left; font-weight: 600; padding-bottom: .3rem; }}
table.plain th, table.plain td {{ border: 1px solid {LINE}; padding: .25rem .4rem; text-align: left;
  vertical-align: top; overflow-wrap: break-word; }}
table.plain th {{ background: {PANEL}; }}
table.plain .number {{ text-align: right; font-variant-numeric: tabular-nums; }}
.wide {{ overflow-x: auto; }}
[data-testid="stSidebarHeader"] {{ height: 2.5rem; padding-top: .5rem; padding-bottom: 0; margin-bottom: 0; }}
[data-testid="stSidebar"] hr {{ margin: .6rem 0; }}
/* Closed, it lies beside the screen: what it holds must not take the focus. */
[data-testid="stSidebar"]:is([data-collapsed="true"], [aria-expanded="false"]) {{ visibility: hidden; }}
@media (max-width: 640px) {{
  .block-container {{ padding-left: 1rem; padding-right: 1rem; padding-top: 3.6rem; }}
  .phone-too {{ display: block; }}
  :is(.phone-too, .listed) table.plain thead {{ display: none; }}
  :is(.phone-too, .listed) table.plain tr {{ display: block; border: 1px solid {LINE}; border-radius: 4px;
    margin-bottom: .6rem; padding: .3rem .5rem; }}
  :is(.phone-too, .listed) table.plain td {{ display: flex; justify-content: space-between; column-gap: 1rem; border: 0;
    padding: .1rem 0; text-align: right; }}
  :is(.phone-too, .listed) table.plain td::before {{ content: attr(data-label); color: {QUIET};
    text-align: left; flex: none; }}
  :is(.phone-too, .listed) table.plain td:empty {{ display: none; }}
  h1 {{ font-size: 1.5rem !important; }}
}}
@media print {{
  @page {{ size: landscape; margin: 12mm; }}
  [data-testid="stSidebar"], [data-testid="stHeader"], [data-testid="stToolbar"], .stButton, .stDownloadButton,
  [data-testid="stElementToolbar"], [data-testid="stExpander"],
  [class*="st-key-screen-only"]
    {{ display: none !important; }}
  .only-print {{ display: block !important; }}
  html, body, .stApp, [data-testid="stAppViewContainer"], [data-testid="stMain"], .block-container
    {{ position: static !important; overflow: visible !important; height: auto !important; padding: 0 !important;
      max-width: none !important; }}
  table.plain {{ font-size: 8.5pt; }}
  table.plain thead {{ display: table-header-group; }}
  table.plain tr {{ break-inside: avoid; }}
}}
</style>
"""
