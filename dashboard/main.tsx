import { render } from 'preact';
import { App } from './app.tsx';
import { keepLive } from './live.ts';
import { noticeNewBuilds } from './outdated.ts';
import { followHash } from './route.ts';
import { followRefusals } from './session.ts';
import { keepShell } from './shell.ts';
import { keepSound } from './sound/keep.ts';
import { followTheme } from './theme.ts';
import './style.css';

followTheme();
followHash();
followRefusals();
keepLive();
keepSound();
keepShell();
noticeNewBuilds();
render(<App />, document.querySelector('#page')!);
