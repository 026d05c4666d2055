// What the pages of survey, files and review ask of the server, and how they send what a person decided.

import { ask } from "./request.js";

/** Send what is to be done. */
const post = (path, body) => ask(path, { method: "POST", body });

/** @returns {Promise<Answer.Session>} */
const getSession = () => ask("/api/session");
/** @returns {Promise<Answer.Survey>} */
const getSurvey = () => ask("/api/survey");
/** @returns {Promise<Answer.OpenShots>} */
const getOpenShots = () => ask("/api/survey/shots");
/**
 * What a pattern would read, or the pattern of one shot by what it is said to be of.
 * @param {Record<string, string>} said
 * @returns {Promise<Answer.ShotsAlike>}
 */
const getAlike = (said) => ask(`/api/survey/shots/alike?${new URLSearchParams(said)}`);
/**
 * Assign shots, set them aside, or take that back; sending the same again is harmless.
 * @param {Answer.ShotsRequest} said
 * @returns {Promise<Answer.ShotsAnswer>}
 */
const sendShots = (said) => post("/api/survey/shots", said);
/** @returns {Promise<Answer.FileList>} */
const getFiles = () => ask("/api/files");

/**
 * A list as one of its states had it, and what that state changed.
 * @param {string} kind
 * @param {number} state
 * @returns {Promise<Answer.ListAnswer>}
 */
const getState = (kind, state) => ask(`/api/list?${new URLSearchParams({ kind, state: String(state) })}`);

/** @returns {Promise<Answer.Declarations>} */
const getDeclarations = () => ask("/api/declarations");

/**
 * Declare settings: all that is named, or nothing.
 * @param {Answer.DeclareRequest} declared
 * @returns {Promise<Answer.Declarations>}
 */
const sendDeclarations = (declared) => post("/api/declarations", declared);

/** @returns {Promise<Answer.NamingAnswer>} */
const previewNaming = (query) => ask(`/api/declarations/preview?${query}`);

/** @returns {Promise<Answer.Selection>} */
const getSelection = (query) => ask(`/api/selection?${query}`);

/** @returns {Promise<Answer.PeopleAnswer>} */
const getPeople = () => ask("/api/people");
/**
 * Let somebody sign in, or give them a device; the link is answered this once.
 * @param {Answer.PersonRequest} person
 * @returns {Promise<Answer.SignInLink>}
 */
const sendPerson = (person) => post("/api/people", person);
/**
 * @param {Answer.KeepOutRequest} who
 * @returns {Promise<Answer.PeopleAnswer>}
 */
const keepOut = (who) => post("/api/people/keep-out", who);

/** @returns {Promise<Answer.Progress>} */
const getProgress = (query) => ask(`/api/progress?${query}`);
/** @returns {Promise<Answer.Period>} */
const getPeriod = (query) => ask(`/api/progress/period?${query}`);
/** @returns {Promise<Answer.Closeout>} */
const getCloseout = (fields) => ask(`/api/progress/closeout?${fields}`);

/**
 * Record a decision; sending the same one again is harmless.
 * @param {Answer.DecisionRequest} decision
 * @returns {Promise<Answer.DecisionAnswer>}
 */
const sendDecision = (decision) => post("/api/decisions", decision);

/**
 * Say what the columns of files of one shape are.
 * @param {number} id
 * @param {Answer.AnswerRequest} answer
 * @returns {Promise<Answer.AnswerKept>}
 */
const sendAnswer = (id, answer) => post(`/api/files/${id}/answer`, answer);

/** @returns {Promise<Answer.ChangeList>} */
const getChanges = () => ask("/api/changes", { cache: "no-store" });
/**
 * @param {string} id
 * @returns {Promise<Answer.Proposal>}
 */
const getProposal = (id) => ask(`/api/proposals/${id}`, { cache: "no-store" });
/** @returns {Promise<Answer.ProposalId>} */
const beginProposal = (by) => post("/api/proposals", { by });
/**
 * Let the files of a proposal be read, with what is said about them.
 * @param {string} id
 * @param {Partial<Answer.Choices>} choices
 */
const readProposal = (id, choices) => post(`/api/proposals/${id}/read`, choices);
const dropProposal = (id) => ask(`/api/proposals/${id}`, { method: "DELETE" });
/**
 * Say what columns of one file of a proposal are.
 * @param {string} id
 * @param {Answer.ColumnsRequest} columns
 */
const sendColumns = (id, columns) => post(`/api/proposals/${id}/columns`, columns);
/**
 * @param {string} id
 * @param {Answer.AcceptRequest} acceptance
 * @returns {Promise<Answer.Accepted>}
 */
const acceptProposal = (id, acceptance) => post(`/api/proposals/${id}/accept`, acceptance);
/**
 * Begin a proposal that undoes a change.
 * @returns {Promise<Answer.ProposalId>}
 */
const undoChange = (id, by) => post(`/api/changes/${id}/undo`, { by });
/** The page on which a proposal is reviewed. */
const reviewPage = (id) => `/review?id=${encodeURIComponent(id)}`;

/** A UUID of version 4; pages that came without TLS have no crypto.randomUUID. */
function newId() {
  if (crypto.randomUUID) return crypto.randomUUID();
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

export { post, getSession, getSurvey, getOpenShots, getAlike, sendShots, getFiles, getState, getProgress, getCloseout, getPeriod, getDeclarations, sendDeclarations, previewNaming, getSelection, getPeople, sendPerson, keepOut, getChanges, getProposal, beginProposal, readProposal, dropProposal, sendColumns, acceptProposal, undoChange, reviewPage, sendDecision, sendAnswer, newId };
