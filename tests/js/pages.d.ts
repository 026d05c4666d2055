// What the pages bring besides the answers: Leaflet, the map's shell, and elements whose kinds the markup decides.

interface Window {
  L: any;
  linemapShell: { map: any };
}

interface Document {
  getElementById(id: string): any;
}

interface ParentNode {
  querySelector(selectors: string): any;
  querySelectorAll(selectors: string): NodeListOf<any>;
}

interface Element {
  closest(selectors: string): any;
}

/** The two constants the server puts before the service worker's text. */
declare const VERSION: string;
declare const FILES: string[];

declare namespace Phone {
  /** A card as the page has it: its mile gives it the line. */
  type Card = Answer.FieldCard & { line: string };

  /** What of a card is in memory for every structure on the phone. */
  type Head = Pick<
    Answer.FieldCard,
    | "number" | "mile" | "longitude" | "latitude" | "station" | "region" | "left_to_right" | "stage"
    | "holds" | "tickets" | "shortages" | "claims" | "not_built"
  > & { line: string; did: string };

  /** A step as it stands on this phone. */
  type Step = Answer.StructureStep & { built: boolean; local: boolean };

  /** A record on its way. */
  interface Entry {
    id: string;
    kind: "event" | "claim" | "briefing";
    at: number;
    body: any;
    state: "waiting" | "refused" | "sent";
    why: string;
    tried: boolean;
    version?: number;
    findings?: string[];
    /** The life of the job and its data version that are known to have it. */
    kept?: { incarnation: string; version: number } | null;
    /** How often it went out once more, because the job did not have it any more. */
    again?: number;
    /** When it was handed to another phone. */
    handed?: number;
    /** The phone it was taken over from. */
    from?: string;
  }

  interface Photo {
    id: string;
    event: string;
    state: string;
    why: string;
    sent: number;
    bytes: number;
  }

  interface Fix {
    longitude: number;
    latitude: number;
    accuracy_m: number;
    at: number;
  }
}
